package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scanio"
	"spotface/report"
	"spotface/report/batch"
)

// smallTook is how long that took.
var smallTook time.Duration

// measuredOnce is what the small scan's measurement writes.
var measuredOnce = sync.OnceValues(func() (string, error) {
	if err := smallOnce(); err != nil {
		return "", err
	}
	out := filepath.Join(scratch, "small.json")
	start := time.Now()
	defer func() { smallTook = time.Since(start) }()
	r := spotfaceContext(context.Background(), "measure", filepath.Join(scratch, "small.stl"), "-o", out,
		"--write-plan", filepath.Join(scratch, "drafted.yaml"), "--labels", filepath.Join(scratch, "labels"))
	if r.code != exitConforming || r.stdout != "" {
		return "", errors.New(r.stderr + r.stdout)
	}
	data, err := os.ReadFile(out)
	return string(data), err
})

// textOnce is what the small scan's measurement prints.
var textOnce = sync.OnceValue(func() result {
	return spotfaceContext(context.Background(), "measure", filepath.Join(scratch, "small.stl"), "--unit", "mm")
})

// manyScans makes n files to check, every fifth broken, and a list of them. They are saved
// measurements, which are judged as their scans would be, in no time.
func manyScans(t *testing.T, n int) (plan, list string, paths []string) {
	t.Helper()
	whole, err := measuredOnce()
	require.NoError(t, err)
	plan, _ = smallFiles(t)
	folder := t.TempDir()
	for i := range n {
		data := whole
		if i%5 == 4 {
			data = data[:len(data)/2]
		}
		paths = append(paths, write(t, folder, fmt.Sprintf("part-%02d.json", i+1), data))
	}
	return plan, write(t, folder, "list.txt", strings.Join(paths, "\n")), paths
}

func linesOf(t *testing.T, text string) (lines []batch.Line) {
	t.Helper()
	for l := range strings.Lines(text) {
		var line batch.Line
		require.NoError(t, json.Unmarshal([]byte(l), &line), l)
		lines = append(lines, line)
	}
	return lines
}

// One run, side by side, in shards, and stopped and gone on with: the same bytes.
func TestCheckToLines(t *testing.T) {
	const n = 12
	plan, list, paths := manyScans(t, n)
	dir := t.TempDir()
	file := func(name string) string { return filepath.Join(dir, name) }
	check := func(args ...string) result {
		return spotface(t, append([]string{"check", plan, "@" + list}, args...)...)
	}
	all := check("--format", "jsonl", "--jobs", "1")
	require.Equal(t, exitUnusable, all.code, "two are broken")
	require.Equal(t, 2, strings.Count(all.stderr, "\n"), all.stderr)
	assert.Contains(t, all.stderr, "part-05.json")
	lines := linesOf(t, all.stdout)
	require.Len(t, lines, n)
	for i, l := range lines {
		assert.Equal(t, i+1, l.Number)
		assert.Equal(t, paths[i], l.Path)
		if i%5 == 4 {
			assert.Nil(t, l.Report)
			assert.Contains(t, l.Error, paths[i])
			continue
		}
		assert.Equal(t, "small flange", l.Part)
		assert.NotEmpty(t, l.Verdict)
	}

	r := check("-o", file("jobs.jsonl"), "--jobs", "5")
	assert.Equal(t, all.code, r.code)
	got, err := os.ReadFile(file("jobs.jsonl"))
	require.NoError(t, err)
	assert.Equal(t, all.stdout, string(got), "by its extension, at 5 jobs")
	again := check("-o", file("jobs.jsonl"))
	requireOneLine(t, again, "jobs.jsonl", "--skip-done")

	var shards [2][]string
	for i := range shards {
		r := check("--format", "jsonl", "--shard", fmt.Sprintf("%d/2", i))
		shards[i] = strings.SplitAfter(r.stdout, "\n")
	}
	var joined strings.Builder
	for i := range n {
		joined.WriteString(shards[i%2][i/2])
	}
	assert.Equal(t, all.stdout, joined.String(), "lines of shards by turns")

	// A stop in the middle of the third line, then with all done.
	third := strings.Index(all.stdout, `{"schema":"spotface-report/1","plan_checksum":"`+lines[0].PlanChecksum+`","number":3`)
	require.Positive(t, third)
	done := write(t, dir, "done.jsonl", all.stdout[:third+1000])
	for _, left := range []int{n - 2, 0} {
		r := check("--skip-done", done)
		assert.Equal(t, all.code, r.code, "as if it had not been stopped")
		assert.Contains(t, r.stderr, fmt.Sprintf("%d to check", left))
		got, err := os.ReadFile(done)
		require.NoError(t, err)
		assert.Equal(t, all.stdout, string(got))
	}
	rest := check("-o", "-", "--format", "jsonl", "--skip-done", done, "--shard", "1/2")
	assert.Empty(t, rest.stdout)

	// Results of another plan are refused.
	other := write(t, dir, "other.yaml", strings.Replace(smallPlan, "nominal: 40", "nominal: 40.1", 1))
	requireOneLine(t, spotface(t, "check", other, "@"+list, "--skip-done", done), "done.jsonl: result 1", "another plan")
}

// Ctrl-C, or a full disk, leaves the whole lines so far.
func TestAStopOfABatchLeavesWholeLines(t *testing.T) {
	plan, list, _ := manyScans(t, 3)
	ctx, cancel := context.WithCancel(t.Context())
	out := &stopAfter{lines: 1, stop: cancel}
	var stderr bytes.Buffer
	code := run(ctx, []string{"check", plan, "@" + list, "--format", "jsonl", "--jobs", "1"}, nil, out, &stderr)
	assert.Equal(t, exitInterrupted, code)
	assert.Len(t, linesOf(t, out.String()), 1)
	assert.Contains(t, stderr.String(), "interrupted: 1 of 3 scans were written")
}

type stopAfter struct {
	bytes.Buffer
	lines int
	stop  func()
}

func (s *stopAfter) Write(b []byte) (int, error) {
	if s.lines--; s.lines == 0 {
		s.stop()
	}
	return s.Buffer.Write(b)
}

func TestLists(t *testing.T) {
	plan, _ := smallFiles(t)
	folder, dir := t.TempDir(), t.TempDir()
	one, two := write(t, folder, "part-01.stl", ""), write(t, folder, "part-02.PLY", "")
	write(t, folder, "notes.md", "not a scan")
	list := write(t, dir, "list.txt", "# of today\n"+two+"\n\n"+one+"\n"+two+"\n")
	var a app
	var stderr bytes.Buffer
	a.stderr = &stderr
	for arg, want := range map[string][]string{folder: {one, two}, filepath.Join(folder, "*-0?.[sP]*"): {one, two}, "@" + list: {two, one}} {
		files, err := a.listFiles([]string{arg}, scanio.HasExtension, "scan")
		require.NoError(t, err, arg)
		var got []listed
		for i, file := range files {
			got = append(got, listed{i + 1, file})
		}
		var paths []string
		for _, s := range a.once(got) {
			paths = append(paths, s.path)
		}
		assert.Equal(t, want, paths, arg)
	}
	assert.Equal(t, "spotface: 1 of the 3 scans are named more than once: each is checked once\n", stderr.String())

	empty := write(t, dir, "empty.txt", "# none today\n")
	for name, c := range map[string]struct{ args, says []string }{
		"empty list":             {[]string{"@" + empty}, []string{"empty.txt", "no scan in it"}},
		"empty folder":           {[]string{t.TempDir()}, []string{"no scan in it"}},
		"pattern of nothing":     {[]string{filepath.Join(folder, "*.obj")}, []string{"*.obj", "no scan in it"}},
		"bad pattern":            {[]string{filepath.Join(folder, "[a.stl")}, []string{"no pattern"}},
		"no such list":           {[]string{"@" + list + "x"}, []string{"list.txtx", "no such file"}},
		"no such shard":          {[]string{one, "--shard", "2/2"}, []string{"--shard", "0/8"}},
		"shard of words":         {[]string{one, "--shard", "first"}, []string{"--shard", "0/8"}},
		"over a scan":            {[]string{folder, "-o", two, "--format", "jsonl"}, []string{"would overwrite", two}},
		"goes on with no lines":  {[]string{one, "--skip-done", filepath.Join(dir, "x")}, []string{"--skip-done", "jsonl"}},
		"goes on with no result": {[]string{one, "--skip-done", list, "--format", "jsonl"}, []string{"list.txt", "result 1"}},
	} {
		t.Run(name, func(t *testing.T) {
			requireOneLine(t, spotface(t, append([]string{"check", plan}, c.args...)...), c.says...)
		})
	}
}

// The variables are those that sbatch(1) and the documentation of Kubernetes' Jobs name.
func TestShardOfABatchEngine(t *testing.T) {
	env := func(pairs ...string) func(string) string {
		return func(name string) string {
			for i := 0; i < len(pairs); i += 2 {
				if pairs[i] == name {
					return pairs[i+1]
				}
			}
			return ""
		}
	}
	slurm := func(id, min, step, count string) func(string) string {
		return env("SLURM_ARRAY_TASK_ID", id, "SLURM_ARRAY_TASK_MIN", min, "SLURM_ARRAY_TASK_STEP", step, "SLURM_ARRAY_TASK_COUNT", count)
	}
	for name, c := range map[string]struct {
		env  func(string) string
		want shard
		says string
	}{
		"no engine":                     {env(), shard{}, ""},
		"--array=0-7, task 3":           {slurm("3", "0", "1", "8"), shard{3, 8}, "SLURM_ARRAY_TASK_ID"},
		"--array=1-8, task 8":           {slurm("8", "1", "1", "8"), shard{7, 8}, "SLURM_ARRAY_TASK_ID"},
		"--array=10-40:10, task 30":     {slurm("30", "10", "10", "4"), shard{2, 4}, "SLURM_ARRAY_TASK_ID"},
		"--array=1,5,7, task 7":         {slurm("7", "1", "1", "3"), shard{}, "no even division"},
		"a step between":                {slurm("15", "10", "10", "4"), shard{}, "no even division"},
		"no count":                      {slurm("1", "0", "1", ""), shard{}, "no even division"},
		"indexed Job, 2 of 4":           {env("JOB_COMPLETION_INDEX", "2", "SPOTFACE_SHARDS", "4"), shard{2, 4}, "JOB_COMPLETION_INDEX"},
		"indexed Job, count not stated": {env("JOB_COMPLETION_INDEX", "2"), shard{}, "SPOTFACE_SHARDS"},
	} {
		got, variable, err := engineShard(c.env)
		if c.want == (shard{}) && c.says != "" {
			assert.ErrorContains(t, err, c.says, name)
			continue
		}
		assert.NoError(t, err, name)
		assert.Equal(t, c.want, got, name)
		assert.Equal(t, c.says, variable, name)
	}

	plan, list, paths := manyScans(t, 2)
	t.Setenv("SLURM_ARRAY_TASK_ID", "2")
	t.Setenv("SLURM_ARRAY_TASK_MIN", "0")
	t.Setenv("SLURM_ARRAY_TASK_COUNT", "3")
	r := spotface(t, "check", plan, "@"+list, "--format", "jsonl")
	assert.Equal(t, exitConforming, r.code, "more tasks than scans is no error")
	assert.Empty(t, r.stdout)
	assert.Equal(t, "spotface: shard 2/3 of the 2 scans, as SLURM_ARRAY_TASK_ID says: --shard 0/1 takes all\n", r.stderr)
	one := spotface(t, "check", plan, paths[0], "--format", "jsonl")
	assert.Len(t, linesOf(t, one.stdout), 1, "a task's own scan is checked whatever its number")
}

func TestTimeLeft(t *testing.T) {
	assert.Equal(t, "12 of 300 scans, about 4m48s left:", timeLeft(12, 300, 12e9))
	assert.Equal(t, "300 of 300 scans, about 0s left:", timeLeft(300, 300, 12e9))
	assert.Equal(t, "1 of 10000 scans, about 2h47m0s left:", timeLeft(1, 10000, 1e9))
}

func TestSummary(t *testing.T) {
	plan, list, paths := manyScans(t, 6)
	dir := t.TempDir()
	lines := filepath.Join(dir, "results.jsonl")
	require.Equal(t, exitUnusable, spotface(t, "check", plan, "@"+list, "-o", lines).code)
	r := spotface(t, "summary", plan, lines)
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stdout, "small flange (plan: small.yaml): 1 part in 2 scans, 1 conforming")
	assert.Contains(t, r.stdout, "Cannot be used: "+paths[4])
	assert.Contains(t, r.stdout, "Counted before, so not again: "+paths[1])
	assert.Equal(t, r.stdout, spotface(t, "summary", plan, dir).stdout)
	text, err := os.ReadFile(lines)
	require.NoError(t, err)
	assert.Equal(t, r.stdout, spotfaceInput(t.Context(), string(text), "summary", plan, "-").stdout)
	assert.Contains(t, spotface(t, "summary", plan, lines, "--format", "csv", "--show", "in").stdout, "B1,pitch_diameter,in,1.57")
	assert.Contains(t, spotface(t, "summary", plan, lines, "--format", "json", "--show", "in").stdout, `"unit": "mm"`)

	mated := filepath.Join(dir, "mated.jsonl")
	spotface(t, "check", plan, paths[0], paths[1], "--mates", "-o", mated)
	requireOneLine(t, spotface(t, "summary", plan, mated), "another plan")
	assert.Equal(t, exitConforming, spotface(t, "summary", plan, mated, "--mates").code)
	require.NoError(t, os.Remove(mated))

	requireOneLine(t, spotface(t, "summary", plan, paths[0]), "part-01.json: result 1", "measured, not judged")
	requireOneLine(t, spotface(t, "summary", plan, write(t, dir, "none.jsonl", "")), "no result")
	requireOneLine(t, spotface(t, "summary", plan, lines, "-o", lines), "would overwrite")
	requireOneLine(t, spotface(t, "summary", plan, filepath.Join(dir, "gone.jsonl")), "gone.jsonl", "no such file")
}

// 60 parts of which one hole drifts by 0.1 degrees, one file broken, the run killed in the
// middle and gone on with: the bytes of a run that was not, and the hole is named. The parts
// are copies of one measurement whose holes were moved, so that this takes no hours.
func TestABatchThatWasKilledNamesTheHoleThatDrifts(t *testing.T) {
	const parts, hole = 60, 2
	text, err := measuredOnce()
	require.NoError(t, err)
	plan, _ := smallFiles(t)
	base, err := report.ReadJSON(strings.NewReader(text))
	require.NoError(t, err)
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(18, 300))
	ring := &base.BoltCircles[0]
	axis, centre := ring.Axis.R3(), ring.Centre.R3()
	var paths []string
	for i := range parts {
		rep := *base
		rep.Scan.SHA256 = fmt.Sprint(i)
		rep.Holes = slices.Clone(base.Holes)
		for k, id := range ring.Holes {
			turn := 0.02 * rng.NormFloat64() // degrees
			if k == hole {
				turn += 0.1 * (float64(i)/float64(parts-1) - 0.5)
			}
			h := rep.Hole(id)
			arm := h.Centre.R3().Sub(centre)
			at := h.Centre.R3().Add(axis.Cross(arm).Mul(turn * math.Pi / 180))
			h.Centre = report.Vec{at.X, at.Y, at.Z}
		}
		var b bytes.Buffer
		require.NoError(t, report.WriteJSON(&b, &rep))
		if i == 30 {
			b.Truncate(b.Len() / 2)
		}
		paths = append(paths, write(t, dir, fmt.Sprintf("part-%03d.json", i+1), b.String()))
	}
	list, killed := write(t, dir, "list.txt", strings.Join(paths, "\n")), filepath.Join(dir, "killed.jsonl")
	args := []string{"check", plan, "@" + list, "--skip-done", killed}
	cmd := exec.CommandContext(t.Context(), os.Args[0], args...)
	cmd.Env = append(os.Environ(), "SPOTFACE_TEST_COMMAND=1")
	require.NoError(t, cmd.Start())
	require.Eventually(t, func() bool {
		info, err := os.Stat(killed)
		return err == nil && info.Size() > 500_000
	}, time.Minute, time.Millisecond)
	require.NoError(t, cmd.Process.Kill())
	assert.Error(t, cmd.Wait(), "it was done before it could be killed")
	resumed := spotface(t, args...)
	assert.Equal(t, exitUnusable, resumed.code)
	assert.Regexp(t, `[1-9]\d* of \d+ scans have a line in .*: [1-9]\d* to check`, resumed.stderr)
	whole := spotface(t, "check", plan, "@"+list, "--format", "jsonl")
	assert.Equal(t, 1, strings.Count(whole.stderr, "\n"), whole.stderr)
	got, err := os.ReadFile(killed)
	require.NoError(t, err)
	assert.True(t, whole.stdout == string(got), "the bytes of a run that was not killed")

	s := spotface(t, "summary", plan, killed)
	t.Log("\n" + strings.ReplaceAll(s.stdout, dir+"/", ""))
	assert.Contains(t, s.stdout, "59 parts in 60 scans")
	// The drift has a standard error of 0.01.
	assert.Regexp(t, `(?m)^B1/H3 DRIFTS: clocking \+0\.(0[6-9]|1[0-4])\d`, s.stdout)
	assert.Equal(t, 1, strings.Count(s.stdout, "DRIFTS"))
}
