package main

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"spotface/report"
)

func newBoltUp(a *app) *cobra.Command {
	var out outFlags
	var scan scanFlags
	var opt report.BoltUpOptions
	cmd := &cobra.Command{
		Use:   "boltup A B",
		Short: "Say whether two parts go together",
		Long: `Lay the hole pattern of one part on that of the other, as mating faces meet, and say
at which clocking the fasteners go through both, how much float is left at each, and how
likely that is by the uncertainty of the scans.

A and B are scans, reports (JSON that "spotface measure" wrote) or plans (YAML), each
seen from its mating face. The pattern of a scan is its bolt circle with most holes, or
the round holes of its mounting face.

Exit code: 0 they bolt up; 1 they do not; 2 a file that cannot be used; 3 the scans
cannot tell.`,
		Example: `  spotface boltup port.stl adapter.stl
  spotface boltup port.json adapter.yaml --fastener 6
  spotface boltup port.stl lid.stl --b-from-back`,
		Args: wantArgs(2, 2, "two parts"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := validate(&out, &scan, args); err != nil {
				return err
			}
			if cmd.Flags().Changed("fastener") && !(opt.Fastener > 0 && opt.Fastener < 1e6) {
				return fmt.Errorf("--fastener %g: give a diameter in mm, above zero", opt.Fastener)
			}
			opt.Seed = scan.seed
			var parts [2]*report.Pattern
			for i, file := range args {
				p, err := a.patternOf(cmd.Context(), file, scan, out)
				if err != nil {
					return err
				}
				parts[i] = p
			}
			up, err := report.NewBoltUp(cmd.Context(), parts[0], parts[1], opt)
			if err != nil {
				return err
			}
			var b bytes.Buffer
			write := report.WriteBoltUp
			if out.format == "json" {
				write = report.WriteBoltUpJSON
			}
			if err := write(&b, up); err != nil {
				return err
			}
			var o outputs
			o.add("-o", out.out, b.Bytes())
			if err := o.write(cmd.Context(), a.stdout); err != nil {
				return err
			}
			*a.code = report.ExitCode(&report.Report{Verdict: up.Verdict})
			return nil
		},
	}
	out.register(cmd)
	scan.register(cmd)
	fl := cmd.Flags()
	fl.Float64Var(&opt.Fastener, "fastener", 0, "diameter of the fasteners, `MM` (default: the largest standard one that goes through, metric or inch as the holes are)")
	fl.BoolVar(&opt.AFromBack, "a-from-back", false, "A was seen from its back, not from the face that meets B")
	fl.BoolVar(&opt.BFromBack, "b-from-back", false, "B was seen from its back, not from the face that meets A")
	return cmd
}

// patternOf reads a report (.json), a plan (.yaml, .yml) or else a scan.
func (a *app) patternOf(ctx context.Context, file string, f scanFlags, out outFlags) (*report.Pattern, error) {
	name := filepath.Base(called(file))
	if ext := strings.ToLower(filepath.Ext(file)); ext == ".yaml" || ext == ".yml" {
		p, err := a.readPlan(file)
		if err != nil {
			return nil, err
		}
		return p.Pattern(name)
	}
	m, err := a.measure(ctx, file, f, out)
	if err != nil {
		return nil, err
	}
	return report.PatternOf(name, m.report)
}
