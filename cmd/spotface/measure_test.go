package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scanio"
	"spotface/report"
)

func parse(t *testing.T, data string) report.Report {
	t.Helper()
	var rep report.Report
	require.NoError(t, json.Unmarshal([]byte(data), &rep), data)
	return rep
}

// One run writes all that it is asked for, and each of it is what it says.
func TestMeasureWritesReportPlanAndLabels(t *testing.T) {
	rep := parse(t, smallJSON(t))
	assert.Equal(t, report.Schema, rep.Schema)
	require.Len(t, rep.BoltCircles, 1)
	assert.Len(t, rep.BoltCircles[0].Holes, 6)
	// The simulated truth is exact: 40 mm. Smoothing moves all holes alike.
	assert.InDelta(t, 40, rep.BoltCircles[0].PitchDiameter, 0.05)
	assert.Empty(t, rep.Verdict, "nothing to judge by")

	drafted := spotface(t, "check", filepath.Join(scratch, "drafted.yaml"), smallSaved(t))
	assert.Contains(t, []int{report.ExitConforming, report.ExitIndeterminate}, drafted.code,
		"a part is never found wrong by the plan drafted from it: %s%s", drafted.stdout, drafted.stderr)

	data, err := os.ReadFile(filepath.Join(scratch, "labels"))
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	assert.Len(t, lines, rep.Scan.FileTriangles)
	named := map[string]bool{"-": true}
	for _, p := range rep.Planes {
		named[p.ID] = true
	}
	for _, c := range rep.Cylinders {
		named[c.ID] = true
	}
	for _, c := range rep.Cones {
		named[c.ID] = true
	}
	for _, s := range rep.Spheres {
		named[s.ID] = true
	}
	for _, l := range lines {
		require.True(t, named[l], "label %q is no surface of the report", l)
	}
}

func TestTheNumberOfProcessorsChangesNothing(t *testing.T) {
	_, scan := smallFiles(t)
	one := spotface(t, "measure", scan, "--format", "json", "--jobs", "1")
	require.Equal(t, exitConforming, one.code, one.stderr)
	assert.Equal(t, one.stdout, smallJSON(t))
}

func TestInFrame(t *testing.T) {
	plan, _ := smallFiles(t)
	r := spotface(t, "check", plan, smallSaved(t), "--format", "json", "--in-frame")
	require.Equal(t, exitConforming, r.code, r.stderr)
	rep := parse(t, r.stdout)
	require.Len(t, rep.BoltCircles, 1)
	b := rep.BoltCircles[0]
	// Circle and bore are concentric in truth, and the frame's origin is on the
	// bore.
	assert.Less(t, b.Centre.R3().Norm(), 0.05)
	assert.InDelta(t, 1, b.Axis[2], 1e-3)
	for _, h := range rep.Holes {
		if h.ID == rep.Frame.Clock {
			assert.InDelta(t, 0, h.Centre[1], 0.05, "X runs through the clocking hole")
			assert.Positive(t, h.Centre[0])
		}
	}
}

func TestCheckExitCodes(t *testing.T) {
	plan, scan := smallFiles(t)
	dir := t.TempDir()
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	with := func(name, old, new string) string {
		require.Contains(t, string(text), old)
		return write(t, dir, name, strings.Replace(string(text), old, new, 1))
	}
	for name, c := range map[string]struct {
		plan string
		code int
		says string
	}{
		"all conforming":  {plan, 0, "CONFORMING"},
		"another pitch":   {with("pitch.yaml", "nominal: 40", "nominal: 41.5"), 1, "NONCONFORMING"},
		"a boss too many": {write(t, dir, "boss.yaml", string(text)+"cylinders: [{id: C7, side: external, diameter: {nominal: 12, band: [-0.2, 0.2]}}]\n"), 1, "C7"},
		// No scan knows a pitch circle to a tenth of a micrometre.
		"band finer than the scan": {with("fine.yaml", "band: [-0.5, 0.5]", "band: [-0.0001, 0.0001]"), -1, ""},
	} {
		t.Run(name, func(t *testing.T) {
			if c.plan != plan {
				scan = smallSaved(t) // as its scan would be
			}
			r := spotface(t, "check", c.plan, scan)
			if c.code < 0 {
				// The true deviation is zero but for smoothing: whether this
				// scan's lies outside is indeterminate or nonconforming, never passed.
				assert.Contains(t, []int{1, 3}, r.code, r.stdout)
				return
			}
			assert.Equal(t, c.code, r.code, "%s%s", r.stdout, r.stderr)
			assert.Contains(t, r.stdout, c.says)
		})
	}
}

func TestCheckOfSeveralScansIsAList(t *testing.T) {
	plan, _ := smallFiles(t)
	scan := smallSaved(t)
	r := spotface(t, "check", plan, scan, scan, "--format", "json")
	require.Equal(t, exitConforming, r.code, r.stderr)
	var reps []report.Report
	require.NoError(t, json.Unmarshal([]byte(r.stdout), &reps))
	require.Len(t, reps, 2)
	for i := range reps[1].Results {
		c := reps[1].Results[i].Change
		require.NotNil(t, c)
		assert.Zero(t, c.By, "from the same scan")
		reps[1].Results[i].Change = nil
	}
	assert.Equal(t, reps[0], reps[1])

	// As text: a line each, a table of characteristics by part, then each one's first screen.
	text := spotface(t, "check", plan, scan, scan).stdout
	for _, want := range []string{"1  small.stl  conforming", "2  small.stl  conforming",
		"off by, and verdict", "part 1", "part 2", "CONFORMING (plan: small flange): all 19"} {
		assert.Contains(t, text, want)
	}
	assert.Less(t, strings.Index(text, "part 2"), strings.Index(text, "Drill table"))

	// One that is broken and one that is not there are a line each, the rest is judged.
	dir := t.TempDir()
	r = spotface(t, "check", plan, write(t, dir, "broken.stl", ""), filepath.Join(dir, "no.stl"), scan, "--format", "json")
	assert.Equal(t, exitUnusable, r.code)
	assert.Contains(t, r.stderr, "broken.stl")
	assert.Contains(t, r.stderr, "no.stl")
	var good []report.Report
	require.NoError(t, json.Unmarshal([]byte(r.stdout), &good))
	assert.Equal(t, reps[:1], good)
	none := spotface(t, "check", plan, filepath.Join(dir, "broken.stl"), filepath.Join(dir, "no.stl"))
	assert.Equal(t, exitUnusable, none.code)
	assert.Empty(t, none.stdout)
	assert.Contains(t, none.stderr, "none of the 2 scans can be used")
}

// A scan in which there is nothing to find is not an error.
func TestAScanWithoutHoles(t *testing.T) {
	var b strings.Builder
	for i := range 30 {
		for j := range 30 {
			x, y := float64(i)*0.5, float64(j)*0.5
			b.WriteString(strings.Join([]string{ftoa(x), ftoa(y), ftoa(math.Sin(x/3) + math.Cos(y/2))}, " ") + "\n")
		}
	}
	file := write(t, t.TempDir(), "waves.xyz", b.String())
	r := spotface(t, "measure", file, "--format", "json")
	assert.Equal(t, exitConforming, r.code, r.stderr)
	assert.Empty(t, parse(t, r.stdout).BoltCircles)
	again := spotface(t, "measure", write(t, t.TempDir(), "waves.json", r.stdout))
	assert.Contains(t, again.stdout, "No holes found")
}

// Nor is a scan in which there is no frame to give coordinates in.
func TestInFrameWithoutAFrame(t *testing.T) {
	file := write(t, t.TempDir(), "three.xyz", threePoints)
	r := spotface(t, "measure", file, "--format", "json", "--in-frame")
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stderr, "--in-frame: ")
	rep := parse(t, r.stdout)
	assert.Nil(t, rep.Frame)
	assert.False(t, rep.InFrame)
}

func TestWorse(t *testing.T) {
	assert.Equal(t, 0, worse(0, 0))
	assert.Equal(t, 3, worse(0, 3))
	assert.Equal(t, 1, worse(3, 1))
	assert.Equal(t, 1, worse(1, 3))
}

func TestOneLine(t *testing.T) {
	assert.Equal(t, "a b c", oneLine("a\n  b\tc\x1b\n"))
}

func ftoa(v float64) string {
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// A part of unlikely size in the assumed unit is said before any number.
func TestTheWrongUnitIsSaidFirst(t *testing.T) {
	r := spotface(t, "measure", write(t, t.TempDir(), "small.xyz", "0 0 0\n1 0 0\n0 2 0\n"))
	require.Equal(t, exitConforming, r.code, r.stderr)
	lines := strings.Split(r.stdout, "\n")
	assert.Contains(t, lines[0], "ASSUMED")
	assert.True(t, strings.HasPrefix(lines[1], "WARNING: The file states no unit and millimetres are assumed"), r.stdout)
}

// The inspection record: which file, which plan, by what and by whom; the same bytes again.
func TestRecord(t *testing.T) {
	plan, scan := smallFiles(t)
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	plan = write(t, t.TempDir(), "b.yaml", "revision: B\n"+string(text))
	saved := smallSaved(t)
	args := []string{"check", plan, saved, "--operator", "R. Hale\n"}
	r := spotface(t, append(args, "--format", "json")...)
	rep := parse(t, r.stdout)
	file, err := os.ReadFile(scan)
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("%x", sha256.Sum256(file)), rep.Scan.SHA256)
	assert.Equal(t, &report.Record{Tool: version(), Operator: "R. Hale", Revision: "B"}, rep.Record)
	assert.Equal(t, r.stdout, spotface(t, append(args, "--format", "json")...).stdout)
	full := spotface(t, append(args, "--full")...).stdout
	for _, want := range []string{"Inspection record", "Revision of the plan: B", "Operator: R. Hale", rep.Scan.SHA256, version()} {
		assert.Contains(t, full, want)
	}
	assert.NotContains(t, spotface(t, args...).stdout, "Hale", "not on the first screen")
}

// A plan in another unit than the scan was read in is warned of, unless it says so.
func TestPlanInAnotherUnit(t *testing.T) {
	plan, _ := smallFiles(t)
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	saved := smallSaved(t)
	inches := strings.NewReplacer("unit: mm", "unit: in", "nominal: 40", "nominal: 1.5748", "nominal: 6.6", "nominal: 0.25984").Replace(string(text))
	for name, c := range map[string]struct{ plan, says string }{
		"mm over mm":                {string(text), ""},
		"in over mm":                {inches, "The plan's unit is in, and the scan was read in mm (file): if that is meant, write scan_unit: mm into the plan."},
		"in over mm, and says so":   {inches + "scan_unit: mm\n", ""},
		"mm, and says scans are in": {string(text) + "scan_unit: in\n", "scan's unit is in (scan_unit), and it was read in mm (file)"},
	} {
		t.Run(name, func(t *testing.T) {
			r := spotface(t, "check", write(t, t.TempDir(), "p.yaml", c.plan), saved)
			require.Equal(t, exitConforming, r.code, r.stderr)
			said := strings.Join(strings.Fields(r.stdout), " ")
			if c.says == "" {
				assert.NotContains(t, said, "scan_unit")
				return
			}
			assert.Contains(t, said, c.says)
			assert.Contains(t, r.stderr, "warning: "+saved+": The plan")
		})
	}
}

// The printing loop, from a scan to the plan to print next: the small flange as a print, of a
// plan whose lengths are larger by 0.4 % and its holes by 0.25 mm beside that.
func TestNextPrint(t *testing.T) {
	scan := smallSaved(t)
	dir := t.TempDir()
	plan := write(t, dir, "flange.yaml", fmt.Sprintf(`# mine
frame: {axis: X1}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: %g, band: +-0.5}, hole_diameter: {nominal: %g, band: +-1}}]
holes: [{id: X1, at: [0, 0], diameter: {nominal: %g, band: +-1.5}}]
`, 40/0.996, 6.85/0.996, 20.25/0.996))
	next := filepath.Join(dir, "next.yaml")
	r := spotface(t, "check", plan, scan, "--next-print", next, "--format", "json")
	require.Equal(t, exitConforming, r.code, r.stderr)
	p := parse(t, r.stdout).Printed
	require.NotNil(t, p)
	assert.InDelta(t, 0.996, p.InPlane.Value, p.InPlane.Uncertainty)
	assert.InDelta(t, -0.25, p.Holes.Value, p.Holes.Uncertainty)
	assert.Nil(t, p.Along)
	text, err := os.ReadFile(next)
	require.NoError(t, err)
	assert.Contains(t, string(text), "# To print, not to judge by: the nominals of flange.yaml, corrected by a scan of its trial, small.stl.\n"+
		"# - lengths in plane: -0.39")
	assert.Contains(t, string(text), "(by 7 diameters): not corrected", "rims alone are too unsure")
	assert.Contains(t, string(text), "\n# mine\nframe:")
	printed := spotface(t, "check", next, scan).stdout
	assert.NotContains(t, printed, "missing", "it is a plan")

	requireOneLine(t, spotface(t, "check", plan, scan, "--next-print", next), "there is such a file")
	requireOneLine(t, spotface(t, "check", plan, scan, scan, "--next-print", filepath.Join(dir, "x")), "one scan of the print")
}

// --show, --full and --format csv.
func TestMeasureShows(t *testing.T) {
	_, scan := smallFiles(t)
	screen, full := smallText(t), spotface(t, "measure", smallSaved(t), "--full")
	assert.LessOrEqual(t, strings.Count(screen, "\n"), 25)
	assert.NotContains(t, screen, "Hole to hole")
	assert.Contains(t, full.stdout, "Hole to hole")
	inches := spotface(t, "measure", smallSaved(t), "--show", "in", "--format", "csv")
	require.Equal(t, exitConforming, inches.code, inches.stderr)
	assert.Contains(t, inches.stdout, ",x_in,")
	assert.Contains(t, inches.stdout, "\nsmall.stl,H1,hole,B1,")
	requireOneLine(t, spotface(t, "measure", scan, "--show", "ft"), `--show "ft"`, "mm or in")
	requireOneLine(t, spotface(t, "fit", "plane", scan, "--format", "csv"), "use text or json")
	var flat strings.Builder
	for i := range 30 * 30 {
		fmt.Fprintf(&flat, "%d %d %g\n", i%30, i/30, 0.01*math.Sin(float64(i*i)))
	}
	only := spotface(t, "measure", write(t, t.TempDir(), "flat.xyz", flat.String()), "--only", "P1")
	assert.Contains(t, only.stdout, "Only P1 asked for")
	assert.NotContains(t, only.stdout, "No holes found")
}

// A scan in inches whose file does not say so: the report proposes them at its top, and no
// plan is drafted until the unit is given.
func TestNoPlanWhileTheUnitIsInDoubt(t *testing.T) {
	_, file := smallFiles(t)
	scan, err := scanio.Read(t.Context(), file, scanio.Options{})
	require.NoError(t, err)
	scan.Origin = scan.Origin.Mul(1 / 25.4)
	for i := range scan.Offsets {
		for k := range 3 {
			scan.Offsets[i][k] /= 25.4
		}
	}
	var b bytes.Buffer
	require.NoError(t, scanio.WriteSTL(&b, scan))
	copy(b.Bytes(), make([]byte, 80)) // what the header says
	dir := t.TempDir()
	inches, plan := write(t, dir, "inches.stl", b.String()), filepath.Join(dir, "p.yaml")
	requireOneLine(t, spotface(t, "measure", inches, "--write-plan", plan), "inches.stl", "unit is in doubt", "--unit")
	assert.Equal(t, []string{"inches.stl"}, names(t, dir))

	r := spotface(t, "measure", inches)
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stdout[:200], "WARNING: The file states no unit and millimetres are assumed, but its sizes speak for\n  inches", r.stdout)
	assert.Contains(t, strings.Join(strings.Fields(r.stdout), " "), "Next: spotface measure "+inches+" --unit in, or --unit mm")
	r = spotface(t, "measure", inches, "--unit", "in", "--write-plan", plan)
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.NotContains(t, r.stdout, "speak for")
}

// A report that was saved is printed anew, and has no labels.
func TestASavedReportIsPrintedAnew(t *testing.T) {
	_, scan := smallFiles(t)
	saved := smallSaved(t)
	again := spotface(t, "measure", saved)
	require.Equal(t, exitConforming, again.code, again.stderr)
	first := smallText(t)
	body, next, _ := strings.Cut(first, "Next: ")
	assert.Contains(t, again.stdout, body[strings.Index(body, "Drill table"):])
	assert.Contains(t, strings.Join(strings.Fields(next), " "), "spotface measure "+scan+" --unit mm --write-plan", "works as it is printed")
	requireOneLine(t, spotface(t, "measure", saved, "--labels", filepath.Join(t.TempDir(), "l.txt")), "needs the scan")
	requireOneLine(t, spotface(t, "export", saved, "port.png", "--in-frame"), "unknown flag")
}
