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
	"spotface/report/wording"
)

// scalePlan judges the bore, the pitch diameter and the clocking.
func scalePlan(references string) string {
	return fmt.Sprintf(`
scanner:
  length: {a: 0.002, b: 0.0005}
  reference_lengths: [%s]
bolt_circles:
  - {id: B1, count: 6, pitch_diameter: {nominal: 84, band: [-0.5, 0.5]}, clocking: {band: [-0.5, 0.5]}}
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.2, 0.2]}}]
planes: [{id: P1}, {id: P2, at: [0, 0, -12], normal: [0, 0, -1]}]
`, references)
}

func TestScaleIsChecked(t *testing.T) {
	rep := checked(t, testpart.Kettle(), scalePlan("{diameter: C1, value: 40.0, u: 0.01}"))
	s := rep.Scale
	require.NotNil(t, s)
	assert.False(t, s.Set)
	assert.True(t, s.Agrees)
	l := s.Lengths[0]
	assert.InDelta(t, 0.02, l.Difference, 1e-12)
	// The scan's 0.001 a radius, the scanner's a + b L, the caliper's 0.01.
	want := 2 * math.Sqrt(0.002*0.002+math.Pow(0.002+0.0005*40.02, 2)+0.01*0.01)
	assert.InDelta(t, want, l.Uncertainty, 1e-12)
	assert.InDelta(t, 0.02/want, l.En, 1e-12)
	assert.InDelta(t, 40.02, *find(t, rep, "C1", report.Diameter).Measured, 1e-12, "only checked, not set")
	assert.Contains(t, flat(textOf(t, rep)), "Scale checked by diameter C1: 40.000 by hand, 40.020 scanned, +0.020 +-0.049 mm between them: they agree.")
	v, err := report.NewView(rep, report.ViewOptions{Inches: true})
	require.NoError(t, err)
	var inches strings.Builder
	require.NoError(t, report.WriteText(&inches, report.TextOptions{Full: true}, v))
	assert.Contains(t, flat(inches.String()), "1.5748 by hand, 1.5756 scanned, +0.0008 +-0.0019 in between them", "over 25.4")

	// 0.1 mm is more than that.
	rep = checked(t, testpart.Kettle(), scalePlan("{diameter: C1, value: 39.92, u: 0.01}"))
	assert.False(t, rep.Scale.Agrees)
	assert.Greater(t, rep.Scale.Lengths[0].En, 1.0)
	text := flat(textOf(t, rep))
	assert.Contains(t, text, "WARNING: The scan's scale disagrees with diameter C1: 39.920 by hand, 40.020 scanned")
	assert.Less(t, strings.Index(text, "WARNING"), strings.Index(text, "bolt circle"), "said first")
}

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// The bore by caliper sets the scale: the bore is then the caliper's and owes
// nothing to the scan, every other length is multiplied, b is gone, angles stay.
func TestScaleIsSet(t *testing.T) {
	before := checked(t, testpart.Kettle(), scalePlan(""))
	rep := checked(t, testpart.Kettle(), scalePlan("{diameter: C1, value: 40.1, u: 0.01, dof: 7, set_scale: true}"))
	bore := find(t, rep, "C1", report.Diameter)
	assert.InDelta(t, 40.1, *bore.Measured, 1e-12)
	assert.InDelta(t, 0.01*bore.CoverageFactor, bore.Uncertainty, 1e-12)
	assert.InDelta(t, 7, bore.EffectiveDoF, 1e-9)
	assert.InDelta(t, 2.43, bore.CoverageFactor, 0.005, "GUM table G.2, 7 and 95.45 %")

	f := 40.1 / 40.02
	require.True(t, rep.Scale.Set)
	assert.InDelta(t, f, rep.Scale.Factor, 1e-12)
	pd, was := find(t, rep, "B1", report.PitchDiameter), find(t, before, "B1", report.PitchDiameter)
	assert.InDelta(t, *was.Measured*f, *pd.Measured, 1e-9)
	// f (scan of the ring, own a), and L times the relative uncertainty of the
	// scale: of the caliper, of the bore's scan and its own a.
	scan := rep.BoltCircles[0].Uncertainty.PitchDiameter / 2
	relative := math.Sqrt(math.Pow(0.01/40.1, 2) + (0.002*0.002+0.002*0.002)/(40.02*40.02))
	want := math.Sqrt(f*f*(scan*scan+0.002*0.002) + math.Pow(*pd.Measured*relative, 2))
	assert.InEpsilon(t, want, pd.Uncertainty/pd.CoverageFactor, 1e-9)
	assert.Less(t, pd.Uncertainty, was.Uncertainty)

	for _, r := range rep.Results {
		if r.Characteristic == report.ClockingAngle {
			old := find(t, before, r.Feature, report.ClockingAngle)
			assert.Equal(t, old.Measured, r.Measured)
			assert.Equal(t, old.Uncertainty, r.Uncertainty)
		}
	}
	assert.Contains(t, flat(textOf(t, rep)), "The scale is set by 1 length taken by hand: judged lengths are multiplied by 1.00200 +-0.00061 (the scan reads 0.20 % short).")
	assert.Contains(t, flat(textOf(t, rep)), "pitch diameter mm 84 "+wording.Fixed(*pd.Measured, 3))
}

// Heat cancels where a reference length of the same part sets the scale.
func TestSetScaleTakesTheTemperatureOut(t *testing.T) {
	plan := func(temperature string) string {
		return "scanner: {" + temperature + "reference_lengths: [{diameter: C1, value: 40.1, u: 0.01, set_scale: true}]}\n" +
			"bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84, band: [-0.5, 0.5]}}]\n" +
			"cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.2, 0.2]}}]\n"
	}
	cold := checked(t, testpart.Kettle(), plan(""))
	hot := checked(t, testpart.Kettle(), plan("temperature: {part: 80, u: 5, expansion: 23e-6, expansion_u: 2e-6}, "))
	assert.Equal(t, cold.Results, hot.Results)
}

// Two lengths: the weighted mean, its uncertainty, and chi-squared by hand (GUM
// and common statistics: weights 1/u², chi² = Δ²/(u1² + u2²)).
func TestTwoLengths(t *testing.T) {
	for _, row := range []struct {
		name   string
		second float64
		agrees bool
	}{{"agree", 84.03, true}, {"disagree", 84.9, false}} {
		t.Run(row.name, func(t *testing.T) {
			rep := checked(t, testpart.Kettle(), strings.Replace(scalePlan(fmt.Sprintf(
				"{diameter: C1, value: 40.02, u: 0.01, set_scale: true}, {distance: [B1/1, B1/4], value: %g, u: 0.02, set_scale: true}", row.second)),
				"{a: 0.002, b: 0.0005}", "{a: 0, b: 0.0005}", 1))
			s := rep.Scale
			v1 := math.Pow(0.01/40.02, 2) + math.Pow(0.002/40.02, 2)
			r2 := row.second / 84
			// Two centres of 0.004 each way.
			v2 := math.Pow(0.02/84, 2) + r2*r2*2*math.Pow(0.004/84, 2)
			mean := (1/v1 + r2/v2) / (1/v1 + 1/v2)
			assert.InDelta(t, mean, s.Factor, 1e-12)
			assert.Equal(t, 1, s.DoF)
			chi2 := (r2 - 1) * (r2 - 1) / (v1 + v2)
			assert.InEpsilon(t, chi2, s.ChiSquared, 1e-9)
			assert.Equal(t, row.agrees, s.Agrees)
			plain := math.Sqrt(1 / (1/v1 + 1/v2))
			u := s.Uncertainty / s.CoverageFactor
			if row.agrees {
				assert.InEpsilon(t, plain, u, 1e-9)
				return
			}
			assert.InEpsilon(t, plain*math.Sqrt(chi2), u, 1e-9, "Birge's widening")
			assert.InDelta(t, 1.2, s.EffectiveDoF, 0.3, "little is known of a spread of two")
			assert.Contains(t, flat(textOf(t, rep)), "WARNING: The lengths taken by hand disagree with each other")
		})
	}
}

// The same length by caliper and by micrometer are two readings, not one.
func TestOneLengthTwice(t *testing.T) {
	one := "{diameter: C1, value: 40.03, u: 0.01, set_scale: true}"
	rep := checked(t, testpart.Kettle(), scalePlan(one+", "+one))
	assert.InDelta(t, 0.01/math.Sqrt2*2, find(t, rep, "C1", report.Diameter).Uncertainty, 1e-9)
}

func TestReferenceDistances(t *testing.T) {
	p := testpart.Kettle()
	p.Extra, p.ExtraD = []r3.Vector{{X: -30, Y: 40}}, 12
	rep := checked(t, p, `
scanner:
  coating: {thickness: 0.02, u: 0.001}
  reference_lengths:
    - {distance: [P1, P2], value: 11.96, u: 0.01}
    - {distance: [C1, X1], value: 50, u: 0.01}
    - {distance: [B1/1, B1/4], value: 84, u: 0.01}
    - {diameter: B1/2, value: 6.63, u: 0.01}
    - {pitch_diameter: B1, value: 84, u: 0.01}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84, band: [-0.5, 0.5]}}]
holes: [{id: X1, at: [-30, 40]}]
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.2, 0.2]}}]
planes: [{id: P1}, {id: P2, at: [0, 0, -12], normal: [0, 0, -1]}]`)
	require.Len(t, rep.Scale.Lengths, 5)
	scanned := func(i int) float64 { return rep.Scale.Lengths[i].Scanned }
	assert.InDelta(t, 12-0.04, scanned(0), 1e-9, "a coat on either face of the plate")
	assert.InDelta(t, 50, scanned(1), 1e-9)
	assert.InDelta(t, 84, scanned(2), 1e-6)
	assert.InDelta(t, 6.61+0.04, scanned(3), 1e-9)
	assert.InDelta(t, 84, scanned(4), 1e-2)
	assert.Equal(t, []string{"C1", "H7"}, rep.Scale.Lengths[1].Matched)
	assert.True(t, rep.Scale.Agrees)
}

func TestReferenceOfWhatIsNotThere(t *testing.T) {
	p := testpart.Kettle()
	rep := checked(t, p, `
scanner: {reference_lengths: [{diameter: C9, value: 20, u: 0.01, set_scale: true}]}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84, band: [-0.5, 0.5]}}]
cylinders: [{id: C9, side: external, diameter: {nominal: 20}}]`)
	assert.Nil(t, rep.Scale)
	assert.Contains(t, strings.Join(rep.Notes, " "), "The reference length diameter C9 could not be compared: the scan does not show C9.")
}
