package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"spotface/mesh/parallel"
	"spotface/report"
	"spotface/report/batch"
	"spotface/report/plan"
)

// manyFlags say which scans of a list are checked, and what is done already.
type manyFlags struct {
	skipDone string
	shard    string
}

func (f *manyFlags) register(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.skipDone, "skip-done", "", "go on in `FILE`: leave out the "+
		"scans that have a line there (write elsewhere with -o)")
	cmd.Flags().StringVar(&f.shard, "shard", "", "check every Nth scan of the list from "+
		"number `I/N`, I from 0 (default: all, or with jsonl as a batch engine's variables say)")
}

// choose returns the scans of the list that are this run's. Variables of a batch engine
// count where results are lines of a batch: a lone scan of a task is meant to be checked.
func (f *manyFlags) choose(a *app, out *outFlags, list []listed) ([]listed, error) {
	if f.shard != "" {
		s, err := parseShard(f.shard)
		return s.of(list), err
	}
	if out.format != jsonLines || len(list) == 1 {
		return list, nil
	}
	s, variable, err := engineShard(os.Getenv)
	if err != nil || variable == "" {
		return list, err
	}
	a.note("shard %d/%d of the %d scans, as %s says: --shard 0/1 takes all", s.index, s.count,
		len(list), variable)
	return s.of(list), nil
}

// checkRun is one run of check.
type checkRun struct {
	*app
	planFile  string
	plan      *plan.Plan
	list      []listed
	scan      scanFlags
	out       outFlags
	nextPrint string
}

// checked is a scan as judged and as measured before, or what is wrong with it.
type checked struct {
	measured
	before *report.Report
	err    error
}

// each checks scans side by side, calls done with each, in their order, and sets the exit
// code. With one scan alone all processors work on it.
func (r *checkRun) each(ctx context.Context, list []listed,
	done func(s listed, c checked) error) error {
	jobs := min(parallel.Jobs(r.scan.Jobs), max(1, len(list)))
	scan, out := r.scan, r.out
	scan.Jobs, out.several = max(1, parallel.Jobs(r.scan.Jobs)/jobs), len(list) > 1
	line := newProgress(r.stderr, r.quiet)
	defer line.clear()
	start := time.Now()
	n := 0
	return parallel.Ordered(ctx, jobs, slices.Values(list), func(s listed) (c checked) {
		var m *measured
		if m, c.before, c.err = r.checkScan(ctx, r.plan, s.path, scan, out); c.err == nil {
			c.measured = *m
		}
		if out.format != "html" { // of many scans the reports alone are kept
			c.measured = measured{report: c.report}
		}
		return c
	}, func(s listed, c checked) error {
		line.clear()
		if c.err != nil {
			r.complain(c.err)
			r.code = exitUnusable
		} else {
			r.code = worse(r.code, report.ExitCode(c.report))
			if out.several {
				r.warn(s.path, r.out, c.report.Scan.Warnings)
			}
		}
		err := done(s, c)
		n++
		if show := line.at(timeLeft(n, len(list), time.Since(start))); show != nil && out.several {
			show(n, len(list))
		}
		return err
	})
}

// timeLeft says how many scans are done, and how long the rest will take at that speed.
func timeLeft(done, all int, took time.Duration) string {
	left := time.Duration(float64(took) / float64(done) * float64(all-done))
	round := time.Second
	if left > 10*time.Minute {
		round = time.Minute
	}
	return fmt.Sprintf("%d of %d scans, about %s left:", done, all, left.Round(round))
}

// lines checks a batch of scans to JSON lines, each written as it is done.
func (r *checkRun) lines(ctx context.Context, many manyFlags) error {
	sum, err := r.plan.Checksum()
	if err != nil {
		return err
	}
	old, err := r.progress(ctx, many.skipDone)
	if err != nil {
		return err
	}
	var todo []listed
	for _, s := range r.list {
		verdict, ok := old.Verdicts[s.path]
		switch {
		case !ok:
			todo = append(todo, s)
		case verdict == "":
			r.code = exitUnusable
		default:
			r.code = worse(r.code, report.ExitCode(&report.Report{Verdict: verdict}))
		}
	}
	if many.skipDone != "" {
		r.note("%d of %d scans have a line in %s: %d to check", len(r.list)-len(todo),
			len(r.list), many.skipDone, len(todo))
	}
	w, end, err := r.openLines(many.skipDone, old.Size)
	if err != nil {
		return err
	}
	written := 0
	err = r.each(ctx, todo, func(s listed, c checked) error {
		line := batch.Line{PlanChecksum: sum, Number: s.number, Path: s.path, Report: c.report}
		if c.err != nil {
			line.Error = oneLine(c.err.Error())
		}
		if err := line.Write(w); err != nil {
			return fmt.Errorf("write the line of %s: %w", s.path, bareError(err))
		}
		written++
		return nil
	})
	if errors.Is(err, context.Canceled) {
		r.note("interrupted: %d of %d scans were written: --skip-done FILE goes on in it",
			written, len(todo))
		r.code = exitInterrupted
		return end()
	}
	return errors.Join(err, end())
}

// progress reads the lines that an earlier run wrote; there need be no such file yet.
func (r *checkRun) progress(ctx context.Context, file string) (*batch.Progress, error) {
	f, err := r.open(file)
	if errors.Is(err, fs.ErrNotExist) { // so is no name
		return &batch.Progress{}, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return batch.ReadProgress(ctx, r.plan, file, f)
}

// openLines opens the place for JSON lines. Where that is the file of earlier ones it goes
// on after their whole lines, size bytes; any other must be empty, for it may hold the work
// of hours.
func (r *checkRun) openLines(earlier string,
	size int64) (w io.Writer, end func() error, err error) {
	file := r.out.out
	if file == "" || file == standardInput {
		return r.stdout, func() error { return nil }, nil
	}
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o666)
	var info fs.FileInfo
	if err == nil {
		info, err = f.Stat()
	}
	switch {
	case err != nil:
	case earlier != "" && sameFile(file, earlier):
		if err = f.Truncate(size); err == nil && size > 0 {
			_, err = f.WriteString("\n")
		}
	case info.Size() > 0:
		err = fmt.Errorf("it holds something already: give --skip-done %s to go on in it, or "+
			"remove it", file)
	}
	if err != nil {
		f.Close()
		return nil, nil, fmt.Errorf("-o %s: %w", file, bareError(err))
	}
	return f, f.Close, nil
}

// listed is a scan of a list, by its place there, from 1.
type listed struct {
	number int
	path   string
}

// listFiles returns the files that the arguments name: a file, a folder, of which is says
// which files are meant, a pattern, or @FILE, which lists them one a line.
func (a *app) listFiles(args []string, is func(name string) bool, kind string) ([]string, error) {
	var out []string
	for _, arg := range args {
		files, err := a.expand(arg, is)
		if err != nil {
			return nil, err
		}
		if len(files) == 0 {
			return nil, fmt.Errorf("%s: there is no %s in it", arg, kind)
		}
		out = append(out, files...)
	}
	return out, nil
}

// once leaves out scans that stand in the list before, and says so.
func (a *app) once(list []listed) []listed {
	seen := make(map[string]bool, len(list))
	out := slices.DeleteFunc(slices.Clone(list), func(s listed) bool {
		twice := seen[s.path]
		seen[s.path] = true
		return twice
	})
	if n := len(list) - len(out); n > 0 {
		a.note("%d of the %d scans are named more than once: each is checked once", n, len(list))
	}
	return out
}

func (a *app) expand(arg string, is func(name string) bool) ([]string, error) {
	if list, ok := strings.CutPrefix(arg, "@"); ok {
		data, err := a.all(list)
		if err != nil {
			return nil, err
		}
		var out []string
		for line := range strings.Lines(string(data)) {
			if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
				out = append(out, line)
			}
		}
		return out, nil
	}
	info, err := os.Stat(arg)
	switch {
	case err == nil && info.IsDir():
		entries, err := os.ReadDir(arg)
		if err != nil {
			return nil, fmt.Errorf("open %s: %w", arg, bareError(err))
		}
		var out []string
		for _, e := range entries {
			if !e.IsDir() && is(e.Name()) {
				out = append(out, filepath.Join(arg, e.Name()))
			}
		}
		return out, nil
	case err != nil && strings.ContainsAny(arg, "*?["):
		out, err := filepath.Glob(arg)
		if err != nil {
			return nil, fmt.Errorf("%s: this is no pattern: close its bracket", arg)
		}
		return out, nil
	}
	return []string{arg}, nil
}

// shard is one of count equal parts of a list: every count-th item from index on.
type shard struct{ index, count int }

// of returns the shard's items.
func (s shard) of(list []listed) []listed {
	var out []listed
	for i := s.index; i < len(list); i += max(1, s.count) {
		out = append(out, list[i])
	}
	return out
}

// parseShard reads the value of --shard: I/N, I from 0.
func parseShard(text string) (s shard, err error) {
	_, err = fmt.Sscanf(text+"\n", "%d/%d\n", &s.index, &s.count)
	if err != nil || s.index < 0 || s.index >= s.count {
		err = fmt.Errorf("--shard %q: give I/N, such as 0/8 for the first of eight shards, up to 7/8",
			text)
	}
	return s, err
}

// engineShard returns the shard that a batch engine's variables ask for, and the one that
// says it; empty where there is none. An indexed Job does not tell its pods how many they
// are, so SPOTFACE_SHARDS does. Sources: sbatch(1) of Slurm, "output environment variables";
// Kubernetes, "Indexed Job for parallel processing with static work assignment".
func engineShard(getenv func(string) string) (s shard, variable string, err error) {
	const slurm, job = "SLURM_ARRAY_TASK_", "JOB_COMPLETION_INDEX"
	variable = slurm + "ID"
	id, first := getenv(variable), getenv(slurm+"MIN")
	step, count := getenv(slurm+"STEP"), getenv(slurm+"COUNT")
	if id == "" {
		variable = job
		id, first, step, count = getenv(job), "0", "1", getenv("SPOTFACE_SHARDS")
	}
	if id == "" {
		return s, "", nil
	}
	step = cmp.Or(step, "1")
	var at, from, by int
	_, err = fmt.Sscan(strings.Join([]string{id, first, step, count}, " "), &at, &from, &by, &s.count)
	if err == nil && by > 0 && (at-from)%by == 0 {
		if s.index = (at - from) / by; s.index >= 0 && s.index < s.count {
			return s, variable, nil
		}
	}
	return shard{}, variable, fmt.Errorf("%s is %q, numbered from %q by %q, of %q: that is no even "+
		"division of a list; give --shard I/N (or how many, in SPOTFACE_SHARDS)",
		variable, id, first, step, count)
}
