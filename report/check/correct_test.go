package check

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/internal/testpart"
)

const everySource = `
scanner:
  length: {a: 0.003, b: 0.0001}
  coating: {thickness: 0.01, half_width: 0.006, distribution: rectangular}
  temperature: {part: 31, half_width: 2, distribution: arcsine, expansion: 23e-6, expansion_u: 1.5e-6}
%s
frame: {axis: C1}
bolt_circles:
  - id: B1
    count: 6
    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    hole_diameter: {nominal: 6.6, band: [-0.2, 0.2]}
    clocking: {band: [-0.5, 0.5]}
    position: {diameter: 0.5}
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.2, 0.2]}}]
`

const setScale = `  reference_lengths:
    - {diameter: C1, value: 40.05, u: 0.008, dof: 6, set_scale: true}
    - {distance: [B1/1, B1/4], value: 84.1, u: 0.02, set_scale: true}
    - {pitch_diameter: B1, value: 84.08, u: 0.03}
`

// line is the budget line of a source.
func line(t *testing.T, r report.Result, source string) report.BudgetLine {
	t.Helper()
	i := slices.IndexFunc(r.Budget, func(l report.BudgetLine) bool { return l.Source == source })
	require.GreaterOrEqual(t, i, 0, "no %s in %v", source, r.Budget)
	return r.Budget[i]
}

// L(20) = L / (1 + α (T - 20)), ISO 1:2022; the uncertainty by hand.
func TestTemperature(t *testing.T) {
	rep := checked(t, testpart.Kettle(), `
scanner: {temperature: {part: 31, half_width: 2, distribution: arcsine, expansion: 23e-6, expansion_u: 1.5e-6}}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}, clocking: {band: [-0.5, 0.5]}}]`)
	raw := rep.BoltCircles[0].PitchDiameter
	r := find(t, rep, "B1", report.PitchDiameter)
	assert.InDelta(t, raw/(1+23e-6*11), *r.Measured, 1e-12)
	scan := rep.BoltCircles[0].Uncertainty.PitchDiameter / 2
	want := math.Sqrt(scan*scan + math.Pow(raw*23e-6*2/math.Sqrt2, 2) + math.Pow(raw*11*1.5e-6, 2))
	assert.InEpsilon(t, 2*want, r.Uncertainty, 1e-3)
	assert.InEpsilon(t, 2*math.Hypot(raw*23e-6*math.Sqrt2, raw*11*1.5e-6), r.FromPlan, 1e-3)
	assert.Equal(t, "arcsine", line(t, r, report.SourceTemperature).Distribution)
	clock := find(t, rep, "B1/H3", report.ClockingAngle)
	assert.InDelta(t, 0.4*5/6, *clock.Deviation, 1e-6, "heat turns nothing")
	assert.Len(t, clock.Budget, 1)
	assert.Contains(t, strings.Join(rep.Notes, " "), "0.025 % smaller than scanned")
}

// Where a plan corrects, one bore has one figure: that which is judged, in text and CSV, also
// for sizes that no band judges. JSON has both.
func TestOneFigureForOneBore(t *testing.T) {
	scanner := `
scanner: {coating: {thickness: 0.01, u: 0.002}, temperature: {part: 31, half_width: 2, distribution: arcsine, expansion: 23e-6, expansion_u: 1.5e-6}}
`
	sizes := `    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    hole_diameter: {nominal: 6.6, band: [-0.2, 0.2]}
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.2, 0.2]}}]`
	circle := "bolt_circles:\n  - id: B1\n    count: 6\n"
	all := checked(t, testpart.Kettle(), scanner+circle+sizes)
	few := checked(t, testpart.Kettle(), scanner+circle+"    clocking: {band: [-0.5, 0.5]}\n")
	f := 1 / (1 + 23e-6*11)
	bore, hole, pitch := find(t, all, "C1", report.Diameter), find(t, all, "B1/H3", report.Diameter), find(t, all, "B1", report.PitchDiameter)
	require.InDelta(t, (40.02+0.02)*f, *bore.Measured, 1e-9)
	for _, rep := range []*report.Report{all, few} {
		h, c := rep.Hole("H3"), rep.Cylinder("C1")
		assert.InDelta(t, 40.02, c.Diameter, 1e-9, "as seen")
		assert.InDelta(t, *bore.Measured, c.Corrected.Diameter, 1e-12)
		assert.InDelta(t, bore.Uncertainty, c.Corrected.Uncertainty.Diameter, 1e-12)
		assert.InDelta(t, *hole.Measured, h.Corrected.Diameter, 1e-12)
		assert.InDelta(t, h.XY[0]*f, h.Corrected.XY[0], 1e-12)
		assert.InDelta(t, *pitch.Measured, rep.BoltCircles[0].Corrected.PitchDiameter, 1e-12)
		text := flat(textOf(t, rep))
		assert.Contains(t, text, "Bore 40.030 +-0.009 mm")
		assert.Contains(t, text, "on a bolt circle of 83.979 +-")
		assert.Contains(t, text, "H3 -21.248 36.216 120.400 +0.40 ! 0.000 6.628", "X and Y, too: 42 f at 120.4 degrees")
		for _, raw := range []string{"40.020", "84.000", "6.610", "-21.253"} {
			assert.NotContains(t, text, raw, "the figure before correction")
		}
		assert.Contains(t, jsonOf(t, rep), `"corrected"`)
	}
	plain := checked(t, testpart.Kettle(), circle+sizes)
	assert.NotContains(t, jsonOf(t, plain), `"corrected"`, "nothing to correct")
}

// Each sensitivity of a budget is the change of the result with its source: taken
// by changing the plan, or the scanned number, and checking again.
func TestSensitivitiesAreDerivatives(t *testing.T) {
	for name, references := range map[string]string{"no reference": "", "scale set": setScale} {
		t.Run(name, func(t *testing.T) {
			part := testpart.Kettle()
			part.Radial = []float64{0.1, 0.1, 0.1, 0.1, 0.1, 0.1}
			rep := reportOf(t, part)
			p := parse(t, fmt.Sprintf(everySource, references))
			measure := func(feature string, what report.Characteristic) float64 {
				rep := judgedBy(t, rep, p)
				return *find(t, rep, feature, what).Measured
			}
			s := &p.Scanner
			// Lengths that agree: weights then do not tell. (A mean's weights are
			// taken as given, which they are to first order only.)
			measure("C1", report.Diameter)
			for i := range s.ReferenceLengths {
				s.ReferenceLengths[i].Value = 1.001 * judgedBy(t, rep, p).Scale.Lengths[i].Scanned
			}
			knobs := map[string]func(float64){
				report.SourceCoating:     func(d float64) { s.Coating.Thickness += d },
				report.SourceTemperature: func(d float64) { s.Temperature.Part += d },
				report.SourceExpansion:   func(d float64) { s.Temperature.Expansion += d },
			}
			for i := range s.ReferenceLengths {
				l := &s.ReferenceLengths[i]
				knobs[report.SourceReference+plainName(l)] = func(d float64) { l.Value += d }
			}
			checked := 0
			for _, of := range []struct {
				feature string
				what    report.Characteristic
				scan    *float64
			}{
				{"C1", report.Diameter, &rep.Cylinders[0].Diameter},
				{"B1/H2", report.Diameter, &rep.Holes[1].Diameter},
				{"B1", report.PitchDiameter, nil},
				{"B1/H4", report.Position, nil},
			} {
				measure(of.feature, of.what)
				r := find(t, judgedBy(t, rep, p), of.feature, of.what)
				if of.scan != nil {
					knobs[report.SourceNoise] = func(d float64) { *of.scan += d }
				} else {
					delete(knobs, report.SourceNoise)
				}
				for _, l := range r.Budget {
					turn, ok := knobs[l.Source]
					if !ok || l.Source == report.SourceNoise && len(slices.DeleteFunc(slices.Clone(r.Budget), func(o report.BudgetLine) bool { return o.Source != report.SourceNoise })) > 1 {
						continue
					}
					step := 1e-3 * l.Standard
					turn(step)
					up := measure(of.feature, of.what)
					turn(-2 * step)
					down := measure(of.feature, of.what)
					turn(step)
					assert.InDelta(t, (up-down)/(2*step), l.Sensitivity, 1e-5*math.Abs(l.Sensitivity)+1e-7, "%s %s: %s", of.what, of.feature, l.Source)
					checked++
				}
			}
			assert.GreaterOrEqual(t, checked, 12)
		})
	}
}

// The variances of a budget add up to the uncertainty, and the shares to one.
func TestBudgetsAddUp(t *testing.T) {
	rep := checked(t, testpart.Kettle(), fmt.Sprintf(everySource, setScale))
	for _, r := range rep.Results {
		variance, share, fourth := 0.0, 0.0, 0.0
		for _, l := range r.Budget {
			assert.InDelta(t, math.Abs(l.Sensitivity)*l.Standard, l.Contribution, 1e-15)
			variance, share = variance+l.Contribution*l.Contribution, share+l.Share
			if l.DoF > 0 {
				fourth += math.Pow(l.Contribution, 4) / l.DoF
			}
		}
		require.NotEmpty(t, r.Budget, r.Feature)
		assert.InDelta(t, 1, share, 1e-12)
		assert.InEpsilon(t, r.Uncertainty, r.CoverageFactor*math.Sqrt(variance), 1e-12)
		if fourth > 0 {
			assert.InEpsilon(t, variance*variance/fourth, r.EffectiveDoF, 1e-9)
		} else {
			assert.Zero(t, r.EffectiveDoF)
		}
	}
	assert.Greater(t, find(t, rep, "C1", report.Diameter).CoverageFactor, 2.0)
}
