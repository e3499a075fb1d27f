package main

import (
	"errors"
	"fmt"
	"io"

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
a line). Most files do not state their unit: give --unit where it is not mm. A report
that was written as JSON is printed anew.`,
		Example: `  spotface measure port.stl
  spotface measure port.ply --unit in --format json -o port.json
  spotface measure port.stl --write-plan port.yaml
  spotface measure port.stl --write-plan copy.yaml --as-found`,
		Args: wantArgs(1, 1, "one scan"),
		RunE: func(cmd *cobra.Command, args []string) error {
			err := validate(&out, args, [2]string{"--write-plan", planFile},
				[2]string{"--labels", labelFile})
			if err != nil {
				return err
			}
			if !force {
				if err := keepPlan("--write-plan", planFile, ", or --force"); err != nil {
					return err
				}
			}
			if asFound && planFile == "" {
				return errors.New("--as-found says how a plan is drafted: name it with --write-plan")
			}
			scan.planned = planFile != ""
			m, err := a.measure(cmd.Context(), args[0], scan, out)
			if err != nil {
				return err
			}
			if labelFile != "" && m.scan == nil {
				return fmt.Errorf("%s: --labels needs the scan, and this is a report", args[0])
			}
			if m.scan != nil && args[0] != standardInput {
				out.scan = args[0]
			}
			o := outputs{of: args[0]}
			o.print("--write-plan", planFile, func(w io.Writer) error {
				return plan.WriteDraft(w, m.report, plan.DraftOptions{AsFound: asFound, Inches: out.show == "in"})
			})
			o.print("--labels", labelFile, func(w io.Writer) error {
				return report.WriteLabels(w, m.scan, m.surfaces)
			})
			if err := a.place(args[0], m, out); err != nil {
				return err
			}
			o.print("-o", out.out, func(w io.Writer) error { return m.render(w, &out) })
			if err := o.write(cmd.Context(), a.stdout); err != nil {
				return err
			}
			a.headline(&out, m.report)
			return nil
		},
	}
	out.registerReport(cmd)
	out.registerRecord(cmd)
	scan.register(cmd)
	fl := cmd.Flags()
	fl.StringVar(&planFile, "write-plan", "", "write a plan to edit to `PLAN`, drafted from "+
		"what was found (in inches with --show in)")
	fl.BoolVar(&force, "force", false, "let --write-plan overwrite a file")
	fl.BoolVar(&asFound, "as-found", false, "let --write-plan draft the measured angles and sizes, "+
		"to copy the part, not what its maker meant")
	fl.StringVar(&labelFile, "labels", "", "write to `FILE`, a line for each triangle (or "+
		"point) of the scan, the id of its surface or -")
	return cmd
}
