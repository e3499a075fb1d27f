package main

import (
	"bytes"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"spotface/report"
	"spotface/report/plan"
)

func newMeasure(a *app) *cobra.Command {
	var out outFlags
	var scan scanFlags
	var planFile, labelFile string
	var force, asFound bool
	cmd := &cobra.Command{
		Use:   "measure SCAN",
		Short: "Find and measure everything in a scan",
		Long: `Find the faces, bosses, bores and holes of a scan and measure them: how large the
holes are, what circle they lie on, how they are clocked, and which of them is
off from the others.

SCAN is an STL, PLY, OBJ or 3MF file, or points as text (x y z, or x y z and a normal,
a line). Most files do not state their unit: give --unit where it is not mm.`,
		Example: `  spotface measure port.stl
  spotface measure port.ply --unit in --format json -o port.json
  spotface measure port.stl --write-plan port.yaml
  spotface measure port.stl --write-plan copy.yaml --as-found`,
		Args: wantArgs(1, 1, "one scan"),
		RunE: func(cmd *cobra.Command, args []string) error {
			err := validate(&out, &scan, args, [2]string{"--write-plan", planFile}, [2]string{"--labels", labelFile})
			if err != nil {
				return err
			}
			if _, err := os.Stat(planFile); err == nil && planFile != "" && !force {
				return fmt.Errorf("--write-plan %s: there is such a file, which may be a plan that was edited: give another name, or --force", planFile)
			}
			if asFound && planFile == "" {
				return fmt.Errorf("--as-found says how a plan is drafted: name it with --write-plan")
			}
			scan.planned = planFile != ""
			m, err := a.measureScan(cmd.Context(), args[0], scan, out)
			if err != nil {
				return err
			}
			var o outputs
			if planFile != "" {
				var b bytes.Buffer
				if err := plan.WriteDraft(&b, m.report, plan.DraftOptions{AsFound: asFound}); err != nil {
					return fmt.Errorf("%s: %w", args[0], err)
				}
				o.add("--write-plan", planFile, b.Bytes())
			}
			if labelFile != "" {
				var b bytes.Buffer
				if err := report.WriteLabels(&b, m.scan, m.surfaces); err != nil {
					return fmt.Errorf("%s: %w", args[0], err)
				}
				o.add("--labels", labelFile, b.Bytes())
			}
			m.report, err = a.placed(args[0], m.report, scan)
			if err != nil {
				return err
			}
			data, err := m.render(&out)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			o.add("-o", out.out, data)
			if err := o.write(cmd.Context(), a.stdout); err != nil {
				return err
			}
			a.headline(&out, m.report)
			return nil
		},
	}
	out.registerReport(cmd)
	out.registerOperator(cmd)
	scan.register(cmd)
	cmd.Flags().StringVar(&planFile, "write-plan", "", "write a plan to edit to `PLAN`, drafted from what was found")
	cmd.Flags().BoolVar(&force, "force", false, "let --write-plan overwrite a file")
	cmd.Flags().BoolVar(&asFound, "as-found", false, "let --write-plan draft the measured angles and sizes, to copy the part, not what its maker meant")
	cmd.Flags().StringVar(&labelFile, "labels", "", "write to `FILE`, a line for each triangle (or point) of the scan, the id of its surface or -")
	return cmd
}
