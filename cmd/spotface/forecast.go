package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"spotface/report/forecast"
)

func newForecast(a *app) *cobra.Command {
	var out outFlags
	var opt forecast.Options
	var kind string
	var length float64
	cmd := &cobra.Command{
		Use:   "forecast PLAN",
		Short: "Say what a scanner would see of a plan's part, before scanning",
		Long: `Simulate scans of the simplest part that carries the plan's features, measure and
check each as a real one, and print how sure each judged characteristic would be, and
whether its band can be judged at all. The part is a disc with the plan's holes and bores;
other faces and bosses are not forecast. The scanner's noise and the spacing of its points
come from the plan's "scanner" or from the flags; both as the report of any of its scans
states them.

Takes from seconds to minutes: trials go on until the figures hold to two digits.`,
		Example: `  spotface forecast port.yaml --noise 0.03 --spacing 0.4
  spotface forecast port.yaml --correlation-length 0 --kind cloud --format json`,
		Args: wantArgs(1, 1, "a plan"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := validate(&out, args); err != nil {
				return err
			}
			if cmd.Flags().Changed("correlation-length") {
				opt.CorrelationLength = &length
			}
			opt.Kind = forecast.Kind(kind)
			p, err := a.readPlan(args[0], false)
			if err != nil {
				return err
			}
			bar := newProgress(a.stderr, a.quiet)
			defer bar.clear()
			opt.Progress = bar.stages(p.File)
			opt.Warn = func(s string) { a.note("note: %s: %s", args[0], s) }
			f, err := forecast.Run(cmd.Context(), p, opt)
			var missing *forecast.MissingError
			if errors.As(err, &missing) {
				return fmt.Errorf("%w, or give --%s MM", err, missing.Key)
			}
			if err != nil {
				return err
			}
			bar.clear()
			return a.result(cmd, new(outputs), &out, f, func(w io.Writer) error {
				return forecast.WriteText(w, f)
			})
		},
	}
	out.register(cmd)
	fl := cmd.Flags()
	choice(cmd, &kind, "kind", string(forecast.Mesh), "scans are of this `KIND`: mesh or cloud",
		string(forecast.Mesh), string(forecast.Cloud))
	lengthFlag(fl, &opt.Noise, "noise", "standard deviation of a point, `MM` (default: the plan's)")
	lengthFlag(fl, &opt.Spacing, "spacing", "distance of neighbouring points, `MM` (default: "+
		"the plan's)")
	fl.Float64Var(&length, "correlation-length", 0, "`MM` over which neighbours share their "+
		"noise, 0 for none (default: the plan's, else both none and a quarter of the smallest "+
		"radius)")
	lengthFlag(fl, &opt.Depth, "depth",
		"thickness of the simulated part, `MM` (default: the smallest hole's diameter)")
	countFlag(fl, &opt.Trials, "trials", 80, 1, "simulate at most this `NUMBER` of scans of each kind")
	seedAndJobs(fl, &opt.Seed, &opt.Jobs)
	return cmd
}
