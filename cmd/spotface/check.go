package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/plan"
)

func newCheck(a *app) *cobra.Command {
	var out outFlags
	var scan scanFlags
	var many manyFlags
	var mates bool
	var nextPrint string
	cmd := &cobra.Command{
		Use:   "check PLAN SCAN...",
		Short: "Judge scans against a plan",
		Long: `Measure each scan and judge it against the plan's nominals and tolerance bands.
Draft a plan with "spotface measure SCAN --write-plan PLAN" and edit its bands. What a
scan cannot show of itself is under "scanner" in the plan: the scanner's length
error, a coat, the temperature, lengths taken with a caliper that check or set the scale.
"spotface help plan" lists every key.

Exit code: 0 everything conforming; 1 something nonconforming or missing; 2 a file
that cannot be used; 3 nothing nonconforming, but something that this scan cannot
tell. With several scans each result also says how it differs from the first scan's, the
worst verdict counts, and JSON is a list of reports; a scan that
cannot be used is one line on standard error, the others are checked all the same, and
the exit code is 2. A report that "spotface measure" wrote as JSON is judged as its scan
would be.

SCAN may be a folder, a pattern, or @FILE with a scan on each line. Scans are checked side
by side. --format jsonl prints a line for each scan, its report or why it cannot be used, as
each is done and in their order: "--skip-done FILE.jsonl" writes them into FILE.jsonl and
goes on there after a stop, "--shard I/N" divides the list over machines, and "spotface
summary PLAN FILE.jsonl" sums the lines up.`,
		Example: `  spotface check port.yaml port.stl
  spotface check port.yaml port.stl --budget
  spotface check port.yaml adapter.stl --mates
  spotface check port.yaml port.json
  spotface check port.yaml print-1.stl print-2.stl --format json
  spotface check port.yaml trial.stl --next-print print-2.yaml
  spotface check port.yaml scans/ --skip-done results.jsonl`,
		Args: wantArgs(2, -1, "a plan and one scan or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if out.out == "" {
				out.out = many.skipDone
			}
			files, err := a.listFiles(args[1:], scanio.HasExtension, "scan")
			if err != nil {
				return err
			}
			next := [2]string{"--next-print", nextPrint}
			if err := validate(&out, append(files, args[0]), next); err != nil {
				return err
			}
			if err := keepPlan(next[0], nextPrint, ""); err != nil {
				return err
			}
			planned, err := a.readPlan(args[0], mates)
			if err != nil {
				return err
			}
			var list []listed
			for i, file := range files {
				list = append(list, listed{i + 1, file})
			}
			lines := out.format == jsonLines
			switch {
			case nextPrint != "" && (len(list) > 1 || lines || args[0] == standardInput):
				return errors.New("--next-print takes the file of the plan that was printed, one scan of the " +
					"print, and a format that is not jsonl")
			case many.skipDone != "" && !lines:
				return fmt.Errorf("--skip-done goes with --format jsonl: there are no lines "+
					"to go on with in %s", out.format)
			case out.format == "html" && len(list) > 1:
				return fmt.Errorf("--format html is a page of one scan: check the %d scans "+
					"one by one", len(list))
			case lines:
				list = a.once(list)
			}
			if list, err = many.choose(a, &out, list); err != nil {
				return err
			}
			r := checkRun{app: a, planFile: args[0], plan: planned, list: list, scan: scan, out: out,
				nextPrint: nextPrint}
			if lines {
				return r.lines(cmd.Context(), many)
			}
			return r.whole(cmd.Context())
		},
	}
	out.registerReport(cmd, jsonLines)
	out.registerRecord(cmd)
	scan.register(cmd)
	many.register(cmd)
	fl := cmd.Flags()
	fl.BoolVar(&mates, "mates", false,
		"the scans are of the part that goes onto the planned one, scanned at its mating face")
	fl.StringVar(&nextPrint, "next-print", "", "the scan is of a trial printed from PLAN: say "+
		"how the printer's sizes are off, and write to `PLAN2` the nominals to print next")
	fl.BoolVar(&out.budget, "budget", false,
		"print all tables and what each uncertainty is made of, source by source (JSON always has it)")
	return cmd
}

// whole checks scans and prints all of them at the end.
func (r *checkRun) whole(ctx context.Context) error {
	var reps []*report.Report
	var last checked
	err := r.each(ctx, r.list, func(_ listed, c checked) error {
		if c.err == nil {
			if len(reps) > 0 {
				c.report = c.report.Since(reps[0])
			}
			reps, last = append(reps, c.report), c
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(reps) == 0 {
		if len(r.list) > 1 {
			return fmt.Errorf("none of the %d scans can be used", len(r.list))
		}
		return nil // why was said
	}
	o := outputs{of: r.planFile}
	o.print("--next-print", r.nextPrint, func(w io.Writer) error {
		return nextPlan(w, r.planFile, r.plan, last.before, last.report)
	})
	o.print("-o", r.out.out, func(w io.Writer) error {
		if r.out.format == "html" {
			return last.page(w, &r.out)
		}
		return render(w, &r.out, len(r.list) > 1, reps...)
	})
	if err := o.write(ctx, r.stdout); err != nil {
		return err
	}
	r.headline(&r.out, reps...)
	return nil
}

// checkScan measures one scan and judges it. The plan's choice of frame and
// its scan unit hold where no flag says otherwise.
func (a *app) checkScan(ctx context.Context, p *plan.Plan, file string, f scanFlags,
	out outFlags) (judged *measured, before *report.Report, err error) {
	if f.unit == "" {
		f.unit = string(p.ScanUnit)
	}
	f.grey = p.Surface.Band
	m, err := a.measure(ctx, file, f, out)
	if err != nil {
		return nil, nil, err
	}
	j, err := check.Check(p, m.report)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", file, err)
	}
	a.warn(file, out, j.Warnings)
	before = m.report
	m.report = before.Judged(j)
	return m, before, a.place(file, m, out)
}

// nextPlan writes the plan's file with the nominals to print next, by the measured print, and
// notes in the judged report how it came out.
func nextPlan(w io.Writer, file string, p *plan.Plan, print, judged *report.Report) error {
	printed, corrected, err := check.NextPrint(p, print)
	if err != nil {
		return err
	}
	judged.Printed = printed
	data, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	if data, err = plan.Rewrite(data, corrected); err != nil {
		return err
	}
	name := filepath.Base(file)
	fmt.Fprintf(w, "# To print, not to judge by: the nominals of %s, corrected by a scan of "+
		"its trial, %s.\n",
		name, judged.Scan.File)
	for _, line := range slices.Concat(printed.Lines(), printed.Cautions) {
		fmt.Fprintf(w, "# - %s\n", oneLine(line))
	}
	_, err = fmt.Fprintf(w, "# Judge the next print by %s again.\n%s", name, data)
	return err
}

// worse returns the exit code of two parts: unusable before nonconforming before
// indeterminate before conforming.
func worse(a, b int) int {
	order := []int{exitConforming, report.ExitIndeterminate, exitNonconforming, exitUnusable}
	return order[max(slices.Index(order, a), slices.Index(order, b))]
}
