package check

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/internal/testpart"
)

func TestCheckOneHoleOff(t *testing.T) {
	rep := checked(t, testpart.Kettle(), testpart.Plan)
	assert.Equal(t, report.Nonconforming, rep.Verdict)
	assert.Equal(t, 1, report.ExitCode(rep))

	r := find(t, rep, "B1/H3", report.ClockingAngle)
	assert.Equal(t, report.Nonconforming, r.Verdict)
	assert.Equal(t, 120.0, *r.Nominal)
	// One of six turned by 0.4 degrees: 0.4 x 5/6 from the best-fit turn.
	assert.InDelta(t, 0.4*5/6, *r.Deviation, 1e-6)
	assert.InDelta(t, *r.Measured-*r.Nominal, *r.Deviation, 1e-12)
	assert.Equal(t, -0.25, *r.Lower)
	assert.Equal(t, 0.25, *r.Upper)
	assert.Equal(t, "deg", r.Unit)
	assert.Equal(t, 2.0, r.CoverageFactor)
	assert.Empty(t, r.Matched)
	assert.Equal(t, report.Nonconforming, rep.BoltCircles[0].Clocking[2].Verdict)
	assert.Equal(t, report.Conforming, rep.BoltCircles[0].Clocking[1].Verdict)

	assert.Equal(t, report.Nonconforming, find(t, rep, "B1/H2-H3", report.SpacingAngle).Verdict)
	assert.Equal(t, report.Conforming, find(t, rep, "B1/H6-H1", report.SpacingAngle).Verdict)
	assert.Len(t, rep.BoltCircles[0].Spacing, 6, "a full ring wraps")
	assert.Equal(t, report.Conforming, find(t, rep, "B1", report.PitchDiameter).Verdict)
	assert.Equal(t, report.Conforming, find(t, rep, "B1/H1", report.Diameter).Verdict)
	assert.Equal(t, report.Conforming, find(t, rep, "C1", report.Diameter).Verdict)
	assert.Equal(t, report.Conforming, find(t, rep, "C1", report.Perpendicularity).Verdict)
	assert.Len(t, rep.Results, 1+6+6+6+2)
}

// A check changes nothing, and another gives the same again.
func TestCheckChangesNothing(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	before := jsonOf(t, rep)
	first := jsonOf(t, judged(t, rep, testpart.Plan))
	judged(t, rep, `bolt_circles: [{id: Z, angles: [0, 60, 120], clocking: {band: [-1, 1]}}]`)
	assert.Equal(t, before, jsonOf(t, rep))
	assert.Equal(t, first, jsonOf(t, judged(t, rep, testpart.Plan)))
}

func TestCheckSaysMissing(t *testing.T) {
	t.Run("a hole of the ring", func(t *testing.T) {
		p := testpart.Kettle()
		p.Angles = []float64{0, 60, 120, 180, 300}
		p.Nominal = p.Angles
		rep := checked(t, p, testpart.Plan)
		r := find(t, rep, "B1/H5", report.ClockingAngle)
		assert.Equal(t, report.Missing, r.Verdict)
		assert.Contains(t, r.Why, "240 degrees")
		assert.Equal(t, report.Nonconforming, rep.Verdict)
		// Across the gap the nominal is a multiple.
		s := find(t, rep, "B1/H4-H6", report.SpacingAngle)
		assert.Equal(t, "B1/H4-H5", s.Matched, "the plan's sixth hole is the scan's fifth")
		assert.Equal(t, 120.0, *s.Nominal)
		assert.Equal(t, report.Conforming, s.Verdict)
		assert.Equal(t, []float64{240}, rep.BoltCircles[0].Nominal.Missing)
	})
	t.Run("a hole too many", func(t *testing.T) {
		p := testpart.Kettle()
		p.Angles[2] = 120
		rep := checked(t, p, `bolt_circles: [{id: B1, count: 5, spacing: {nominal: 60, band: [-1, 1]}, pitch_diameter: {nominal: 84}}]`)
		r := find(t, rep, "B1", report.Presence)
		assert.Equal(t, "B1/H6", r.Matched)
		assert.Equal(t, report.Nonconforming, r.Verdict)
		assert.Contains(t, r.Why, "where the plan has none")
		assert.Equal(t, 1, report.ExitCode(rep))
	})
	t.Run("a hole of the ring that the plan lists by itself", func(t *testing.T) {
		rep := checked(t, testpart.Kettle(), `bolt_circles: [{id: B1, angles: [0, 60, 120, 180, 240], clocking: {band: [-1, 1]}, pitch_diameter: {nominal: 84}}]
holes: [{id: X1, at: [21, -36.373], diameter: {nominal: 6.6, band: [-1, 1]}}]`)
		assert.Equal(t, report.Conforming, rep.Verdict, "%+v", rep.Results)
		assert.Equal(t, "H3", find(t, rep, "X1", report.Diameter).Matched)
	})
	t.Run("a circle, a cylinder, a hole, a plane", func(t *testing.T) {
		rep := checked(t, testpart.Kettle(), testpart.Plan+`holes: [{id: X1, at: [43.9, -4.6], diameter: {nominal: 12, band: [-0.1, 0.2]}}]
planes: [{id: P1}, {id: P2, at: [0, 0, -40], normal: [0, 0, -1], flatness: 0.3}]
`)
		assert.Equal(t, report.Missing, find(t, rep, "X1", report.Diameter).Verdict)
		assert.Equal(t, report.Missing, find(t, rep, "P2", report.Flatness).Verdict)
		assert.Equal(t, report.Conforming, find(t, rep, "P1", report.Presence).Verdict)

		rep = checked(t, testpart.Kettle(), `
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 120, band: [-1, 1]}, spacing: {band: [-1, 1]}}]
cylinders: [{id: C9, side: external, diameter: {nominal: 40, band: [-1, 1]}}]`)
		assert.Equal(t, report.Missing, find(t, rep, "B1", report.PitchDiameter).Verdict)
		assert.Equal(t, report.Missing, find(t, rep, "B1", report.SpacingAngle).Verdict)
		assert.Equal(t, report.Missing, find(t, rep, "C9", report.Diameter).Verdict)
		assert.Equal(t, 1, report.ExitCode(rep))
	})
	t.Run("a hole so wrong that it is none of the ring", func(t *testing.T) {
		p := testpart.Kettle()
		p.Angles = []float64{0, 60, 120, 180, 300}
		p.Nominal = p.Angles
		sin, cos := math.Sincos(240 * math.Pi / 180)
		p.Extra, p.ExtraD = []r3.Vector{{X: 42.3 * cos, Y: 42.3 * sin}}, 9
		rep := checked(t, p, testpart.Plan)
		assert.Equal(t, report.Nonconforming, find(t, rep, "B1/H5", report.Diameter).Verdict)
		assert.Equal(t, "B1/H6", find(t, rep, "B1/H5", report.Diameter).Matched)
		assert.InDelta(t, 2.4, *find(t, rep, "B1/H5", report.Diameter).Deviation, 1e-9)
		for _, r := range rep.Results {
			assert.NotEqual(t, report.Missing, r.Verdict)
		}
		assert.Len(t, rep.BoltCircles[0].Clocking, 6)
		assert.Empty(t, rep.BoltCircles[0].Nominal.Missing)
	})
	t.Run("a wrong size is not missing", func(t *testing.T) {
		p := testpart.Kettle()
		p.Pitch = 85.5
		rep := checked(t, p, testpart.Plan)
		r := find(t, rep, "B1", report.PitchDiameter)
		assert.Equal(t, report.Nonconforming, r.Verdict)
		assert.InDelta(t, 1.5, *r.Deviation, 1e-3)
	})
}

func TestCheckIndeterminate(t *testing.T) {
	p := testpart.Kettle()
	p.Angles[2] = 120
	p.U = 0.06 // +-0.15 degrees
	rep := checked(t, p, `bolt_circles: [{id: B1, count: 6, clocking: {band: [-0.1, 0.1]}, pitch_diameter: {nominal: 84, band: [-0.5, 0.5]}}]`)
	assert.Equal(t, report.Indeterminate, rep.Verdict)
	assert.Equal(t, 3, report.ExitCode(rep))
	assert.Contains(t, strings.Join(strings.Fields(textOf(t, rep)), " "), "so nothing could pass")
	rep = checked(t, p, `
decision: simple-acceptance
bolt_circles: [{id: B1, count: 6, clocking: {band: [-0.1, 0.1]}}]`)
	assert.Equal(t, report.Conforming, rep.Verdict)
}

// The scan lies anywhere and numbers its holes from anywhere: a partial ring has
// one turn that fits, an uneven one too.
func TestCheckFindsTheTurn(t *testing.T) {
	for clock := range 3 {
		for _, turn := range []float64{0, 100, 250} {
			t.Run(fmt.Sprintf("partial ring, numbered from hole %d, turned by %g", clock+1, turn), func(t *testing.T) {
				p := testpart.Part{Pitch: 94.38, Diameter: 7.18, Angles: []float64{0, 60.3, 120}, Nominal: []float64{0, 60, 120},
					U: 0.005, Z: r3.Vector{X: 1, Y: 2, Z: -2}, Turn: turn, Clock: clock}
				rep := checked(t, p, `bolt_circles: [{id: B1, count: 3, spacing: {nominal: 60, band: [-0.2, 0.2]}, clocking: {band: [-0.15, 0.15]}}]`)
				c := rep.BoltCircles[0]
				assert.Equal(t, []string{"H1", "H2", "H3"}, c.Holes, "counted from the plan's first")
				assert.Equal(t, "H1", rep.Frame.Clock)
				assert.InDelta(t, 0.2, *find(t, rep, "B1/H2", report.ClockingAngle).Deviation, 1e-3)
				assert.Len(t, c.Spacing, 2, "a partial ring does not wrap")
				assert.False(t, c.Nominal.FullRing)
				assert.Empty(t, rep.Notes)
			})
		}
	}
	t.Run("uneven angles", func(t *testing.T) {
		p := testpart.Kettle()
		p.Angles = []float64{0, 60, 120, 178.3, 240, 300}
		p.Clock, p.Irregular = 4, true
		rep := checked(t, p, `bolt_circles: [{id: B1, angles: [0, 58, 120, 180, 240, 300], clocking: {band: [-0.1, 0.1]}}]`)
		// The plan's gap of 58 is the one from 120 to 178.3.
		assert.Equal(t, []string{"H3", "H4", "H5", "H6", "H1", "H2"}, rep.BoltCircles[0].Holes)
		assert.Equal(t, "H3", rep.Frame.Clock)
		assert.InDelta(t, 0.3*5/6, *find(t, rep, "B1/H2", report.ClockingAngle).Deviation, 1e-6)
		assert.Equal(t, 58.0, *find(t, rep, "B1/H2", report.ClockingAngle).Nominal)
		assert.Equal(t, "B1/H4", find(t, rep, "B1/H2", report.ClockingAngle).Matched)
		assert.Contains(t, textOf(t, rep), "the plan's pattern")
	})
}

func TestFullRingSaysThatTurnsAreAlike(t *testing.T) {
	rep := checked(t, testpart.Kettle(), testpart.Plan)
	require.Len(t, rep.Notes, 1)
	assert.Contains(t, rep.Notes[0], "fits at six turns equally well")

	// An odd hole with its place settles it, wherever the scan numbers from.
	for clock := range 6 {
		p := testpart.Kettle()
		p.Clock = clock
		p.Extra, p.ExtraD = []r3.Vector{{X: 50 * math.Cos(math.Pi/6), Y: 50 * math.Sin(math.Pi/6)}}, 12
		rep := checked(t, p, testpart.Plan+"holes: [{id: X1, at: [43.3, 25], diameter: {nominal: 12, band: [-0.1, 0.1]}}]\n")
		assert.Empty(t, rep.Notes)
		assert.Equal(t, "H1", rep.Frame.Clock)
		assert.Equal(t, "H1", rep.BoltCircles[0].Clocking[0].Hole)
		r := find(t, rep, "X1", report.Diameter)
		assert.Equal(t, report.Conforming, r.Verdict)
		assert.Equal(t, "H7", r.Matched)
	}
}

// The frame clocked by a hole beside the ring: the ring counts from the first
// hole counter-clockwise of it.
func TestClockedByAnotherHole(t *testing.T) {
	for clock := range 6 {
		p := testpart.Kettle()
		p.Clock = clock
		a := 200.0 * math.Pi / 180
		p.Extra, p.ExtraD = []r3.Vector{{X: 55 * math.Cos(a), Y: 55 * math.Sin(a)}}, 12
		plan := strings.Replace(testpart.Plan, "clock: H1", "clock: X1", 1) +
			"holes: [{id: X1, at: [55, 0], diameter: {nominal: 12, band: [-0.1, 0.1]}, position: {diameter: 0.2}}]\n"
		rep := checked(t, p, plan)
		assert.Empty(t, rep.Notes)
		assert.Equal(t, "H7", rep.Frame.Clock)
		assert.Equal(t, "H5", rep.BoltCircles[0].Clocking[0].Hole, "240 degrees is the next after 200")
		assert.Equal(t, report.Conforming, find(t, rep, "X1", report.Position).Verdict)
		odd := find(t, rep, "B1/H5", report.ClockingAngle)
		assert.Equal(t, report.Nonconforming, odd.Verdict)
		assert.Equal(t, "B1/H3", odd.Matched, "the scan's third is the plan's fifth")
	}
}

// True position is 2 sqrt(dx² + dy²) (ASME Y14.5): a hole 0.1 mm outward of its
// place on the planned pitch circle has 0.2.
func TestPosition(t *testing.T) {
	p := testpart.Kettle()
	p.Angles[2] = 120
	p.Radial = []float64{0.1, 0, 0, 0, 0, 0}
	rep := checked(t, p, `
frame: {axis: C1}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, position: {diameter: 0.15}}]
cylinders: [{id: C1, diameter: {nominal: 40}}]`)
	assert.InDelta(t, 0.2, *find(t, rep, "B1/H1", report.Position).Measured, 1e-6)
	assert.Equal(t, report.Nonconforming, find(t, rep, "B1/H1", report.Position).Verdict)
	assert.InDelta(t, 0, *find(t, rep, "B1/H4", report.Position).Measured, 1e-6)
	assert.Equal(t, report.Conforming, find(t, rep, "B1/H4", report.Position).Verdict)
	assert.Nil(t, find(t, rep, "B1/H4", report.Position).Lower, "no part is too good")
}

// A hole 0.4 degrees off alone is 5/6 of that off by least squares and half of it where the
// pattern is turned to suit the farthest: 0.49 and 0.29 mm.
func TestSmallestZoneIsNoted(t *testing.T) {
	const plan = `
frame: {axis: C1}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, position: {diameter: %s}}]
cylinders: [{id: C1, diameter: {nominal: 40}}]`
	rep := checked(t, testpart.Kettle(), fmt.Sprintf(plan, "0.35"))
	assert.Contains(t, strings.Join(rep.Notes, " "), "lie in zones of 0.293 mm; by least squares, as judged, in zones of 0.489 mm")
	for _, zone := range []string{"0.25", "0.6"} {
		assert.NotContains(t, strings.Join(checked(t, testpart.Kettle(), fmt.Sprintf(plan, zone)).Notes, " "), "as on a gauge")
	}
}

// The hole that clocks the frame, on 42 mm, swings the place of one on 63 mm by 3/2
// of its own error; the bore shifts it by its.
func TestPositionKnowsItsDatum(t *testing.T) {
	p := testpart.Kettle()
	p.Angles[2] = 120
	p.Extra, p.ExtraD = []r3.Vector{{X: 0, Y: 63}}, 12
	rep := checked(t, p, `
frame: {axis: C1, clock: H1}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, clocking: {band: [-0.5, 0.5]}}]
holes: [{id: X1, at: [0, 63], diameter: {nominal: 12}, position: {diameter: 0.2}}]
cylinders: [{id: C1, diameter: {nominal: 40}}]`)
	r := find(t, rep, "X1", report.Position)
	bore := rep.Cylinder("C1")
	origin := math.Hypot(bore.Uncertainty.Point, bore.Uncertainty.AxisDeg*math.Pi/180*6) / report.CoverageCentre
	assert.InEpsilon(t, math.Hypot(origin, 1.5*p.U), line(t, r, report.SourceDatum).Standard, 1e-3)
	assert.InEpsilon(t, p.U, line(t, r, report.SourceNoise).Standard, 1e-6)
	assert.Greater(t, r.CoverageFactor, 2.0)
	assert.Greater(t, *r.Probability, 0.977)
	assert.Equal(t, report.Conforming, r.Verdict)
}

// A coat of thickness t shrinks a hole by 2t and grows a boss by 2t.
func TestScannerFigures(t *testing.T) {
	rep := checked(t, testpart.Kettle(), `
scanner: {length: {a: 0.003, b: 0.0001}, coating: {thickness: 0.01, u: 0.002}}
bolt_circles: [{id: B1, count: 6, hole_diameter: {nominal: 6.6, band: [-0.2, 0.2]}, pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}}]`)
	r := find(t, rep, "B1/H1", report.Diameter)
	assert.InDelta(t, 6.61+0.02, *r.Measured, 1e-12)
	// GUM, sum of squares: the scan's 0.004, length 0.003 + 0.0001 x 6.61, twice the coat's.
	want := 2 * math.Sqrt(0.004*0.004+math.Pow(0.003+0.0001*6.61, 2)+math.Pow(2*0.002, 2))
	assert.InDelta(t, want, r.Uncertainty, 1e-12)
	pd := find(t, rep, "B1", report.PitchDiameter)
	assert.InDelta(t, 84, *pd.Measured, 1e-2, "a coat does not move centres")
	assert.InDelta(t, 2*(0.003+0.0001*84), pd.FromPlan, 1e-5)
	assert.Contains(t, strings.Join(rep.Notes, " "), "coat")
}

func TestCheckRefusesAPlanWithoutBands(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rep = judged(t, rep, "bolt_circles: [{id: B1, count: 6}]") // the ring is there: that is judged
	assert.Equal(t, report.Conforming, find(t, rep, "B1", report.Presence).Verdict)
}

func TestCheckNeedsNoFrame(t *testing.T) {
	p := testpart.Kettle()
	p.Angles = nil
	rep := checked(t, p, `
planes: [{id: P1, flatness: 0.3}]
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.1, 0.1]}}]`)
	assert.Equal(t, report.Conforming, rep.Verdict)
	assert.Equal(t, report.Conforming, find(t, rep, "C1", report.Diameter).Verdict)
}

// A form that may be all noise is said to be so, in the table of faces, at the
// judged number and under what would settle it.
func TestFormOrNoiseIsSaid(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	form := 0.2
	rep.Planes[0].Flatness, rep.Planes[0].Uncertainty.Flatness, rep.Planes[0].FormOrNoise = &form, form, true
	rep.Cylinders[0].Cylindricity, rep.Cylinders[0].Uncertainty.Cylindricity, rep.Cylinders[0].FormOrNoise = &form, form, true
	rep = judged(t, rep, `
planes: [{id: P1, flatness: 0.3}]
cylinders: [{id: C1, diameter: {nominal: 40}, cylindricity: 0.5}]`)
	r := find(t, rep, "P1", report.Flatness)
	assert.Equal(t, report.Indeterminate, r.Verdict)
	assert.Contains(t, r.Why, "cannot be distinguished from noise")
	assert.Equal(t, report.Conforming, find(t, rep, "C1", report.Cylindricity).Verdict, "0 to 0.4 lies within 0.5")
	text := strings.Join(strings.Fields(textOf(t, rep)), " ")
	assert.Contains(t, text, "P1 mounting face 0.40 (the limit of this scan) or the scanner's noise")
	assert.Contains(t, text, "flatness P1: no more points of the same kind")
}

// The hole that a plan's frame names as its clock is on X, and a ring counts from it.
func TestClockThatIsNamed(t *testing.T) {
	p := testpart.Kettle()
	p.Extra, p.ExtraD = []r3.Vector{{X: 50 * math.Cos(math.Pi/6), Y: 50 * math.Sin(math.Pi/6)}}, 12
	hole := "holes: [{id: X1, at: [%s], diameter: {nominal: 12, band: [-0.1, 0.1]}}]\n"
	// X1 lies at 30 degrees from the first hole, and at -90 degrees from the third.
	for _, row := range []struct{ clock, at, on string }{
		{"H1", "43.3, 25", "H1"}, {"H3", "0, -50", "H3"}, {"B1/3", "0, -50", "H3"},
	} {
		for clock := range 6 { // from whichever hole the scan counts
			p.Clock = clock
			plan := strings.Replace(testpart.Plan, "clock: H1", "clock: "+row.clock, 1) + fmt.Sprintf(hole, row.at)
			rep := checked(t, p, plan)
			assert.Equal(t, row.on, rep.Frame.Clock, row.clock)
			c := rep.BoltCircles[0]
			assert.Equal(t, row.on, c.Clocking[0].Hole)
			assert.Zero(t, c.Clocking[0].AngleDeg)
			assert.Equal(t, report.Nonconforming, find(t, rep, "B1/H3", report.ClockingAngle).Verdict, "the third is off, counted from wherever")
			assert.Equal(t, report.Conforming, find(t, rep, "X1", report.Diameter).Verdict)
			x := rep.Frame.Point(rep.Hole(row.on).Centre)
			assert.InDelta(t, 0, x[1], 1e-9, "it is on X")
		}
	}
}

// A frame about a bolt circle has its centre for an origin, though there is a bore.
func TestAxisThatIsNamed(t *testing.T) {
	p := testpart.Kettle()
	p.Angles[2] = 120
	p.Radial = []float64{0.3, 0, 0, -0.3, 0, 0} // the circle's centre is 0.2 mm off the bore's
	rep := checked(t, p, strings.Replace(testpart.Plan, "axis: C1", "axis: B1", 1))
	assert.Equal(t, "B1", rep.Frame.Axis)
	assert.Less(t, rep.Frame.Origin.R3().Distance(rep.BoltCircles[0].Centre.R3()), 1e-9)
	rep = checked(t, p, testpart.Plan)
	assert.Equal(t, "C1", rep.Frame.Axis)
	hub := testpart.Kettle()
	hub.BoreD, hub.Extra, hub.ExtraD = 0, []r3.Vector{{X: 0.5}}, 20 // a bore that shows its rim alone
	plan := strings.Split(strings.Replace(testpart.Plan, "axis: C1", "axis: X1", 1), "cylinders:")[0]
	bored := checked(t, hub, plan+"holes: [{id: X1, at: [0, 0], diameter: {nominal: 20, band: [-1, 1]}}]\n")
	assert.Equal(t, "H7", bored.Frame.Axis)
	assert.Less(t, bored.Hole("H7").Centre.R3().Distance(bored.Frame.Origin.R3()), 1e-9)
	assert.InDelta(t, 0.2, rep.Frame.Origin.R3().Distance(rep.BoltCircles[0].Centre.R3()), 1e-3)
}

// Of a plan in the wrong unit the check says which factor fits.
func TestAnotherUnitIsNamed(t *testing.T) {
	rep := checked(t, testpart.Kettle(), "unit: in\nbolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84, band: [-1, 1]}}]")
	r := find(t, rep, "B1", report.PitchDiameter)
	assert.Equal(t, report.Missing, r.Verdict)
	assert.Contains(t, r.Why, "One of 84.00 mm is there: a factor of 25.4 fits. Is the plan's or the scan's unit mm, and not in?")
}

func TestCheckRefusesAPlanThatIsNotValid(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	_, err := Check(nil, rep)
	assert.ErrorContains(t, err, "nil")
	p := parse(t, testpart.Plan)
	p.BoltCircles[0].ClockingBand.Lo = 1
	_, err = Check(p, rep)
	assert.ErrorContains(t, err, "swap them")
}

// The part that goes onto the planned one shows its pattern mirrored, and what is beside it.
func TestMates(t *testing.T) {
	mount := testpart.Part{Pitch: 84, Diameter: 6.6, Angles: []float64{0, 47, 120, 200}, Irregular: true, U: 0.004, BoreD: 40.02,
		Origin: r3.Vector{X: 3}, Z: r3.Vector{X: 1, Z: 1}, Extra: []r3.Vector{{X: 20, Y: 45}}, ExtraD: 12}
	adapter := mount
	adapter.Angles = []float64{0, 160, 240, 313} // 360 less each
	adapter.Extra = []r3.Vector{{X: 20, Y: -45}}
	plan := `
frame: {clock: %s}
scanner: {reference_lengths: [{distance: [B1/1, B1/2], value: 33.49, u: 0.02}]} # 84 sin(23.5 degrees) = 33.49
bolt_circles: [{id: B1, angles: [0, 47, 120, 200], pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}, clocking: {band: +-0.1}}]
holes: [{id: X1, at: [%s], diameter: {nominal: 12, band: +-0.1}, position: {diameter: 0.1}}]
`
	// In the frame of the second hole the odd one is turned back by its 47 degrees.
	sin, cos := math.Sincos(-47 * math.Pi / 180)
	second := fmt.Sprintf("%.4f, %.4f", 20*cos-45*sin, 20*sin+45*cos)
	for clock, at := range map[string]string{"H1": "20, 45", "H2": second} {
		direct := fmt.Sprintf(plan, clock, at)
		for name, of := range map[string]struct {
			part  testpart.Part
			mates bool
			fits  bool
		}{"the mount": {mount, false, true}, "the adapter, as if it were the mount": {adapter, false, false},
			"the adapter": {adapter, true, true}, "the mount, as if it were the adapter": {mount, true, false}} {
			rep := checked(t, of.part, direct+fmt.Sprintf("mates: %v\n", of.mates))
			assert.Equal(t, of.fits, rep.Verdict == report.Conforming, "%s, clock %s: %v", name, clock, rep.Results)
			if of.fits {
				require.NotNil(t, rep.Scale)
				assert.InDelta(t, 33.49, rep.Scale.Lengths[0].Scanned, 0.01)
			}
		}
	}
	// Part of a ring stays one.
	part := testpart.Part{Pitch: 94, Diameter: 7, Angles: []float64{0, 60, 120}, Nominal: []float64{0, 60, 120}, U: 0.005, Z: r3.Vector{Z: 1}}
	rep := checked(t, part, "mates: true\nbolt_circles: [{id: B1, count: 3, spacing: {nominal: 60, band: +-0.2}, clocking: {band: +-0.2}}]")
	assert.Equal(t, report.Conforming, rep.Verdict)
	assert.Len(t, rep.BoltCircles[0].Spacing, 2)
}

// What is planned and was not measured is missing.
func TestNotMeasuredIsMissing(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rep.Planes[0].Flatness = nil
	rep.Cylinders[0].Cylindricity = nil
	rep = judged(t, rep, "planes: [{id: P1, flatness: 0.3}]\ncylinders: [{id: C1, diameter: {nominal: 40}, cylindricity: 0.5}]")
	assert.Equal(t, report.Missing, find(t, rep, "P1", report.Flatness).Verdict)
	assert.Equal(t, report.Missing, find(t, rep, "C1", report.Cylindricity).Verdict)
	assert.Equal(t, report.Nonconforming, rep.Verdict)
	textOf(t, rep) // a result without numbers can be said

	// A rectangle has no diameter; it is not one of zero.
	rep = reportOf(t, testpart.Kettle())
	h := rep.Hole("H4")
	h.Kind, h.Diameter, h.Width, h.Length = "rectangle", 0, 6.3, 6.4
	rep = judged(t, rep, testpart.Plan)
	r := find(t, rep, "B1/H4", report.Diameter)
	assert.Equal(t, report.Missing, r.Verdict)
	assert.Nil(t, r.Measured)
	assert.Contains(t, textOf(t, rep), "H4 is a rectangle of 6.30 x 6.40 mm here, which has no diameter")
}
