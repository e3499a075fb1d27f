package check

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/internal/testpart"
)

// A hole at maximum material condition passes where a gauge pin of its virtual size, the
// smallest hole less the zone, at the true place goes in (ASME Y14.5): here by enumeration
// of holes and gauge, with hardly any uncertainty.
func TestMaximumMaterialIsTheGauge(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 5))
	passed := 0
	for range 10 {
		p := testpart.Kettle()
		p.U, p.Angles[2] = 1e-7, 120
		p.Radial = make([]float64, 6)
		for i := range 6 {
			p.Radial[i] = 0.15 * rng.NormFloat64()
		}
		p.Diameter = 6.6 + 0.25*rng.Float64()
		seen := reportOf(t, p)
		rep := judged(t, seen, `
frame: {axis: C1}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, hole_diameter: {nominal: 6.6, band: [0, 0.25]}, position: {diameter: 0.1, material: mmc}}]
cylinders: [{id: C1, diameter: {nominal: 40}}]`)
		plain := judged(t, seen, `
frame: {axis: C1}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, position: {diameter: 0.1}}]
cylinders: [{id: C1, diameter: {nominal: 40}}]`)
		for i := range 6 {
			name := fmt.Sprintf("B1/H%d", i+1)
			r := find(t, rep, name, report.Position)
			off := *find(t, plain, name, report.Position).Measured / 2
			goes := off+(6.6-0.1)/2 < p.Diameter/2
			if *r.Upper-*r.Measured > 0.02 || *r.Measured-*r.Upper > 0.02 { // not by the bore's uncertainty
				assert.Equal(t, goes, r.Verdict == report.Conforming, "off %.4f, diameter %.4f", off, p.Diameter)
			}
			assert.InDelta(t, p.Diameter-6.6, r.Bonus, 1e-9)
			assert.InDelta(t, 0.1+r.Bonus, *r.Upper, 1e-9)
			if goes {
				passed++
			}
		}
	}
	assert.Greater(t, passed, 10, "some pass")
	assert.Less(t, passed, 50, "and some do not")
}

// Composite: the pattern as a whole may lie off, by 0.2 mm here, where its holes keep to
// each other.
func TestCompositePosition(t *testing.T) {
	p := testpart.Kettle()
	p.U, p.Angles[2] = 0.001, 120
	plan := `
frame: {axis: C1}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, position: {diameter: 0.5, within: 0.05}}]
cylinders: [{id: C1, diameter: {nominal: 40}}]`
	shift := func(a float64) float64 { return 0.1 * math.Cos(a*math.Pi/180) }
	p.Radial = []float64{shift(0), shift(60), shift(120), shift(180), shift(240), shift(300)}
	for i, a := range p.Angles { // a shift by 0.1 along X, exactly
		x, y := 42*math.Cos(a*math.Pi/180)+0.1, 42*math.Sin(a*math.Pi/180)
		p.Radial[i], p.Angles[i] = math.Hypot(x, y)-42, math.Mod(math.Atan2(y, x)*180/math.Pi+360, 360)
	}
	p.Nominal = []float64{0, 60, 120, 180, 240, 300}
	rep := checked(t, p, plan)
	whole := find(t, rep, "B1", report.Position)
	assert.InDelta(t, 0, *whole.Measured, 1e-4)
	assert.Equal(t, report.Conforming, whole.Verdict)
	assert.InDelta(t, 0.2, *find(t, rep, "B1/H1", report.Position).Measured, 0.01)

	p.Radial[0] += 0.12 // 0.12 mm out: the best place of the pattern halves what that is
	whole = find(t, checked(t, p, plan), "B1", report.Position)
	assert.Equal(t, report.Nonconforming, whole.Verdict)
	assert.Less(t, *whole.Measured, 0.24*0.75)
	assert.Greater(t, *whole.Measured, 0.1)
	require.Equal(t, 0.05, *whole.Upper)
}
