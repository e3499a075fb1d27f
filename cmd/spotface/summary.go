package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"spotface/report/batch"
	"spotface/report/page"
)

func newSummary(a *app) *cobra.Command {
	var out outFlags
	var mates bool
	cmd := &cobra.Command{
		Use:   "summary PLAN RESULT...",
		Short: "Sum up many parts that were checked by one plan",
		Long: `Sum up the results of "spotface check PLAN SCAN... --format jsonl" (or reports that it
wrote as JSON): for each characteristic mean, spread, trend, capability and control chart,
which hole of the pattern drifts, which parts to look at first. RESULT may be a folder, a
pattern, or @FILE with a file on each line; results of shards may come in any order.

The table shows deviations from nominal. Cpk is given from 25 parts on, where their values
pass for normal at 1 %; else the share of the parts whose measured value lies in the band.
Measuring is the share of the spread that the stated uncertainties make, without what moves
all scans of one scanner alike. A drift is significant at 1 % for the whole batch; that of a hole
is against the median of its circle's other holes. The control chart is of individual
values, with the four rules of the Western Electric handbook; "!" stands where it signals
oftener than one steady process in 1,000 would; JSON lists where and by which rule. CSV has a
row for each characteristic with all figures and their 95 % intervals, a page (--format html)
the control charts. The exit code is 0, whatever the parts are, or 2 where a file cannot be
used.`,
		Example: `  spotface summary port.yaml results.jsonl
  spotface summary port.yaml results-*.jsonl --format csv -o table.csv`,
		Args: wantArgs(2, -1, "a plan and one file of results or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			files, err := a.listFiles(args[1:], isResult, "file of results")
			if err != nil {
				return err
			}
			if err := validate(&out, append(files, args[0])); err != nil {
				return err
			}
			planned, err := a.readPlan(args[0], mates)
			if err != nil {
				return err
			}
			b, err := batch.New(planned)
			if err != nil {
				return err
			}
			b.Inches = out.show == "in" && out.format != "json"
			for _, file := range files {
				if err := a.readResults(cmd.Context(), b, file); err != nil {
					return err
				}
			}
			s, err := b.Summary()
			if err != nil {
				return fmt.Errorf("%s: %w", strings.Join(args[1:], ", "), err)
			}
			return a.result(cmd, new(outputs), &out, s, func(w io.Writer) error {
				switch out.format {
				case "csv":
					return batch.WriteCSV(w, s)
				case "html":
					return page.WriteSummary(w, s, version())
				}
				return batch.WriteText(w, s, out.full)
			})
		},
	}
	out.registerReport(cmd)
	cmd.Flags().BoolVar(&mates, "mates", false, "the scans were checked with --mates")
	return cmd
}

// isResult reports whether a file of a folder may hold results.
func isResult(name string) bool {
	ext := extension(name)
	return ext == "."+jsonLines || ext == ".json"
}

func (a *app) readResults(ctx context.Context, b *batch.Batch, file string) error {
	f, err := a.open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	return b.Read(ctx, a.called(file), f)
}
