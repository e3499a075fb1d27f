package main

import (
	"bytes"
	"errors"
	"fmt"

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
other faces and bosses are not forecast. The scanner's noise and the spacing of its points come from the plan's
"scanner" or from the flags; both as the report of any of its scans states them.

Takes from seconds to minutes: trials go on until the figures hold to two digits.`,
		Example: `  spotface forecast port.yaml --noise 0.03 --spacing 0.4
  spotface forecast port.yaml --correlation-length 0 --kind cloud --format json`,
		Args: wantArgs(1, 1, "a plan"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := validate(&out, nil, args); err != nil {
				return err
			}
			fl := cmd.Flags()
			for _, name := range []string{"noise", "spacing", "depth"} {
				if v, _ := fl.GetFloat64(name); fl.Changed(name) && !(v > 0) {
					return fmt.Errorf("--%s %v: give a length above zero, mm", name, v)
				}
			}
			if fl.Changed("trials") && opt.Trials < 1 {
				return fmt.Errorf("--trials %d: give 1 or more", opt.Trials)
			}
			if opt.Jobs < 0 {
				return fmt.Errorf("--jobs %d: give 1 or more, or 0 for all processors", opt.Jobs)
			}
			if fl.Changed("correlation-length") {
				opt.CorrelationLength = &length
			}
			opt.Kind = forecast.Kind(kind)
			p, err := a.readPlan(args[0])
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
				return fmt.Errorf("%w, or give --%s", err, missing.Key)
			}
			if err != nil {
				return err
			}
			bar.clear()
			var b bytes.Buffer
			write := forecast.WriteText
			if out.format == "json" {
				write = forecast.WriteJSON
			}
			if err := write(&b, f); err != nil {
				return err
			}
			var o outputs
			o.add("-o", out.out, b.Bytes())
			return o.write(cmd.Context(), a.stdout)
		},
	}
	out.register(cmd)
	fl := cmd.Flags()
	fl.StringVar(&kind, "kind", string(forecast.Mesh), "scans are of this `KIND`: mesh or cloud")
	complete(cmd, "kind", string(forecast.Mesh), string(forecast.Cloud))
	fl.Float64Var(&opt.Noise, "noise", 0, "standard deviation of a point, `MM` (default: the plan's)")
	fl.Float64Var(&opt.Spacing, "spacing", 0, "distance of neighbouring points, `MM` (default: the plan's)")
	fl.Float64Var(&length, "correlation-length", 0, "`MM` over which neighbours share their noise, 0 for none (default: the plan's, else both none and a quarter of the smallest radius)")
	fl.Float64Var(&opt.Depth, "depth", 0, "thickness of the simulated part, `MM` (default: the smallest hole's diameter)")
	fl.IntVar(&opt.Trials, "trials", 80, "simulate at most this `NUMBER` of scans of each kind")
	fl.Uint64Var(&opt.Seed, "seed", 0, "`NUMBER` that picks the noise; the same number gives the same result")
	fl.IntVar(&opt.Jobs, "jobs", 0, "`NUMBER` of processors to use (default: all); it does not change the result")
	return cmd
}
