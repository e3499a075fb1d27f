package plan_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report/plan"
)

// A file gets new sizes and places, and keeps its comments, bands and unit.
func TestRewrite(t *testing.T) {
	const file = `unit: in # Zoll: größer
bolt_circles:
  - {id: B1, count: 6, hole_diameter: {nominal: '2 63/64', band: +-0.01}, pitch_diameter: {band: [-0.1, 0.1], nominal: 6}} # both
    # a ring
holes:
  - id: "größer"
    at: [ 1.5,-2 ]
    diameter:
      nominal: 1/4
planes: [{id: P1}, {id: P2, at: [0, 0, -0.5], normal: [0, 0, -1]}]
`
	p := parse(t, file)
	changed := *p
	size := func(s *plan.Size) *plan.Size { return &plan.Size{Nominal: s.Nominal * 1.01, Band: s.Band} }
	changed.BoltCircles = []plan.Circle{p.BoltCircles[0]}
	changed.BoltCircles[0].HoleDiameter = size(p.BoltCircles[0].HoleDiameter)
	changed.BoltCircles[0].PitchDiameter = size(p.BoltCircles[0].PitchDiameter)
	changed.Holes = []plan.Hole{p.Holes[0]}
	changed.Holes[0].Diameter, changed.Holes[0].At = size(p.Holes[0].Diameter), []float64{38.5, -50.8}
	changed.Planes = []plan.Plane{p.Planes[0], p.Planes[1]}
	changed.Planes[1].At = []float64{0, 0, -12.8}
	out, err := plan.Rewrite([]byte(file), &changed)
	require.NoError(t, err)
	assert.Equal(t, strings.NewReplacer("'2 63/64'", "3.01422", "nominal: 6}", "nominal: 6.06}", "[ 1.5,-2 ]", "[ 1.51575,-2 ]",
		"nominal: 1/4", "nominal: 0.2525", "-0.5]", "-0.50394]").Replace(file), string(out))

	same, err := plan.Rewrite([]byte(file), p)
	require.NoError(t, err)
	assert.Equal(t, file, string(same), "what did not change")
	_, err = plan.Rewrite([]byte(file), &plan.Plan{})
	assert.ErrorContains(t, err, "other features")
}
