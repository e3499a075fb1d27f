package plan_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/internal/testpart"
	"spotface/report/internal/testreport"
	"spotface/report/plan"
)

func parse(t testing.TB, yaml string) *plan.Plan {
	t.Helper()
	p, err := plan.Parse("port.yaml", []byte(yaml))
	require.NoError(t, err)
	return p
}

var reportOf, built = testreport.Of, testreport.Built

func draftOf(t *testing.T, rep *report.Report) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, plan.WriteDraft(&b, rep, plan.DraftOptions{}))
	return b.String()
}

func oddPort() testpart.Part {
	p := testpart.Kettle()
	p.Pitch, p.Angles[2] = 84.06, 120.1
	p.Extra, p.ExtraD = []r3.Vector{{X: -30, Y: 35}}, 12.04
	return p
}

func TestDraftGolden(t *testing.T) {
	testpart.Golden(t, "draft.yaml", draftOf(t, reportOf(t, oddPort())), 1.1e-2)
}

// A draft in inches is the same plan, to a ten-thousandth of an inch; its bands of lengths are
// rounded up to a thousandth.
func TestDraftInInches(t *testing.T) {
	rep := reportOf(t, oddPort())
	mm := parse(t, draftOf(t, rep))
	for _, found := range []bool{false, true} {
		var b bytes.Buffer
		require.NoError(t, plan.WriteDraft(&b, rep, plan.DraftOptions{Inches: true, AsFound: found}))
		assert.Contains(t, b.String(), "unit: in ")
		assert.Contains(t, b.String(), "measured 3.309")
		in := parse(t, b.String())
		for _, s := range [][2]*plan.Size{{mm.BoltCircles[0].PitchDiameter, in.BoltCircles[0].PitchDiameter},
			{mm.Holes[0].Diameter, in.Holes[0].Diameter}, {mm.Cylinders[0].Diameter, in.Cylinders[0].Diameter}} {
			if !found {
				assert.InDelta(t, s[0].Nominal, s[1].Nominal, 0.00005*25.4)
			}
			assert.InDelta(t, s[0].Band.Hi, s[1].Band.Hi-0.0005*25.4, 0.0005*25.4)
		}
		assert.InDeltaSlice(t, mm.Holes[0].At, in.Holes[0].At, 0.005+0.00005*25.4)
		assert.InDelta(t, mm.Planes[0].Flatness, in.Planes[0].Flatness-0.0005*25.4, 0.0005*25.4)
	}
}

// A draft of the part as found has its measured angles, sizes and places: the part's own truth,
// to the digits that are known, and what a circle does not hold in words.
func TestDraftAsFound(t *testing.T) {
	part := oddPort()
	part.Radial = []float64{0, 0, 0, 0.05, 0, 0}
	rep := reportOf(t, part)
	var b bytes.Buffer
	require.NoError(t, plan.WriteDraft(&b, rep, plan.DraftOptions{AsFound: true}))
	p := parse(t, b.String())
	c := p.BoltCircles[0]
	for i, k := range rep.BoltCircles[0].Clocking {
		assert.InDelta(t, k.AngleDeg, c.Angles[i], 5.1e-4)
	}
	assert.InDelta(t, 120.1, c.Angles[2], 0.04, "about the circle's own centre, which H4 moves by 0.017 mm")
	assert.InDelta(t, rep.BoltCircles[0].PitchDiameter, c.PitchDiameter.Nominal, 5.1e-4)
	assert.Equal(t, 6.61, c.HoleDiameter.Nominal)
	assert.Equal(t, 12.04, p.Holes[0].Diameter.Nominal)
	assert.Contains(t, b.String(), "    # H4 lies +0.025 +-0.006 mm out of this circle, at [-42.080, 0.000]",
		"0.05 less its pull on radius and centre, (1 + 2)/6 for six holes; 42.03 + 0.05")
	assert.NotContains(t, b.String(), "clearance")
	j, err := check.Check(p, rep)
	require.NoError(t, err)
	assert.Equal(t, report.Conforming, j.Verdict)
	for _, r := range j.Results {
		if r.Deviation != nil && r.Characteristic != report.Flatness {
			assert.InDelta(t, 0, *r.Deviation, 1.1e-3, "%s %s", r.Feature, r.Characteristic)
		}
	}
}

// A unit that the file did not state stays assumed in the draft, so that a check says so
// again; one that was given is the plan's.
func TestDraftKeepsAnAssumedUnit(t *testing.T) {
	rep := reportOf(t, oddPort())
	for source, want := range map[string]mesh.Unit{"assumed": "", "given": "mm", "file": ""} {
		rep.Scan.UnitSource = source
		p, err := plan.Parse("draft.yaml", []byte(draftOf(t, rep)))
		require.NoError(t, err)
		assert.Equal(t, want, p.ScanUnit, source)
	}
}

// A drafted plan reads back, and the part it came from conforms to it, wherever
// the next scan lies and whichever hole it numbers first.
func TestDraftRoundTrip(t *testing.T) {
	text := draftOf(t, reportOf(t, oddPort()))
	p, err := plan.Parse("draft.yaml", []byte(text))
	require.NoError(t, err, text)
	require.Len(t, p.BoltCircles, 1)
	assert.Equal(t, 84.0, p.BoltCircles[0].PitchDiameter.Nominal, "84.06 was meant to be 84")
	assert.Equal(t, 6.6, p.BoltCircles[0].HoleDiameter.Nominal)
	assert.Equal(t, []float64{0, 60, 120, 180, 240, 300}, p.BoltCircles[0].Angles)
	require.Len(t, p.Holes, 1)
	assert.InDelta(t, -30, p.Holes[0].At[0], 0.01)
	assert.InDelta(t, 35, p.Holes[0].At[1], 0.01)
	assert.Contains(t, text, "measured 84.060 +-0.007", "the measured size is beside the guess")
	for clock := range 6 {
		again := oddPort()
		again.Clock, again.Turn, again.Z = clock, 211, r3.Vector{X: -1, Y: 0.2, Z: 0.4}
		rep := reportOf(t, again)
		j, err := check.Check(p, rep)
		require.NoError(t, err)
		rep = rep.Judged(j)
		assert.Equal(t, report.Conforming, rep.Verdict, "%v", rep.Results)
		assert.Equal(t, "H1", rep.Frame.Clock)
		assert.Empty(t, rep.Notes)
	}
}

// What a draft leaves as comments is a plan too, once the # is gone.
func TestDraftCommentsAreValid(t *testing.T) {
	text := draftOf(t, reportOf(t, oddPort()))
	live := strings.NewReplacer("  # - {", "  - {", "    # position", "    position", "# scanner:", "scanner:").Replace(text)
	require.NotEqual(t, text, live)
	_, err := plan.Parse("draft.yaml", []byte(live))
	require.NoError(t, err, live)
}

func TestDraftOfPartialAndIrregularRings(t *testing.T) {
	partial := testpart.Part{Pitch: 94.38, Diameter: 7.18, Angles: []float64{0, 60.03, 119.98}, Nominal: []float64{0, 60, 120}, U: 0.02, Z: r3.Vector{Z: 1}}
	p := parse(t, draftOf(t, reportOf(t, partial)))
	assert.Equal(t, []float64{0, 60, 120}, p.BoltCircles[0].Angles)

	irregular := testpart.Part{Pitch: 70, Diameter: 5.5, Angles: []float64{0, 47, 160, 231}, Irregular: true, U: 0.004, Z: r3.Vector{Z: 1}}
	text := draftOf(t, reportOf(t, irregular))
	assert.Contains(t, text, "no regular pattern")
	assert.InDeltaSlice(t, []float64{0, 47, 160, 231}, parse(t, text).BoltCircles[0].Angles, 0.006)
}

func TestNoDraftWhileTheUnitIsInDoubt(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rep.Scan.UnitCheck = &report.UnitCheck{Readings: []report.UnitReading{{Unit: "in", Probability: 0.97}}}
	require.NoError(t, plan.WriteDraft(&bytes.Buffer{}, rep, plan.DraftOptions{}), "another unit is possible, no more")
	rep.Scan.UnitCheck.Doubt = true
	var b bytes.Buffer
	err := plan.WriteDraft(&b, rep, plan.DraftOptions{})
	assert.ErrorIs(t, err, report.ErrUnitInDoubt)
	assert.ErrorContains(t, err, "inches (97.0 %): give the unit")
	assert.Zero(t, b.Len())
}

func TestDraftOfNothing(t *testing.T) {
	rep := built(t, &mesh.Scan{}, &segment.Segmentation{}, &bolt.Measurement{})
	var b bytes.Buffer
	assert.ErrorIs(t, plan.WriteDraft(&b, rep, plan.DraftOptions{}), plan.ErrNothing)
	assert.Zero(t, b.Len())
}

// What was not measured is left out of a draft, and said: the mesh of a drawing has no
// flatness. The part conforms to its draft, whichever hole clocks it.
func TestDraftConformsToItsPart(t *testing.T) {
	for clock := range 6 {
		p := oddPort()
		p.Angles[2], p.Clock = 120, clock
		rep := reportOf(t, p)
		for i := range rep.Planes {
			rep.Planes[i].Flatness = nil
		}
		text := draftOf(t, rep)
		assert.Contains(t, text, "{id: P1}  # mounting face; its flatness is left out")
		j, err := check.Check(parse(t, text), rep)
		require.NoError(t, err)
		assert.Equal(t, report.Conforming, j.Verdict, "%s\n%v", text, j.Results)
		assert.Equal(t, rep.Frame.Clock, j.Frame.Clock)
	}
	vague := oddPort()
	vague.U = 0.2 // +-0.5 degrees: bands of 0.25 could not be decided
	rep := reportOf(t, vague)
	j, err := check.Check(parse(t, draftOf(t, rep)), rep)
	require.NoError(t, err)
	assert.Equal(t, report.Conforming, j.Verdict, "%v", j.Results)
}

// A frame that a hole beside the circle clocks is drafted by that hole's id.
func TestDraftNamesItsClock(t *testing.T) {
	rep := reportOf(t, oddPort())
	rep.Frame.Clock = "H7"
	assert.Equal(t, "H7", parse(t, draftOf(t, rep)).Frame.Clock)
}

// A block of more than mostLines lines says how many it leaves out.
func TestDraftLeavesOutSmallPlanes(t *testing.T) {
	rep := reportOf(t, oddPort())
	for range 29 {
		rep.Planes = append(rep.Planes, rep.Planes[0])
		rep.Planes[len(rep.Planes)-1].ID = "P9"
	}
	text := draftOf(t, rep)
	assert.Equal(t, 23, strings.Count(text, "  # - {id: P9"))
	assert.Contains(t, text, "  # and 6 smaller ones\n")
}
