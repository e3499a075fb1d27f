package forecast

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report/plan"
)

const ring = "bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}, hole_diameter: {nominal: 6.6}, clocking: {band: [-0.25, 0.25]}}]\n"

func planOf(t testing.TB, text string) *plan.Plan {
	t.Helper()
	p, err := plan.Parse("port.yaml", []byte(text))
	require.NoError(t, err)
	return p
}

func TestPlansThatAreOfNoPart(t *testing.T) {
	for _, row := range []struct{ name, plan, want string }{
		{"no pitch", "bolt_circles: [{id: B1, count: 6, hole_diameter: {nominal: 6.6}, clocking: {band: [-1, 1]}}]",
			`port.yaml: bolt circle B1 has no pitch_diameter, which a forecast needs to build the part: add it, as in "pitch_diameter: {nominal: 84}"`},
		{"no hole size", "bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, clocking: {band: [-1, 1]}}]",
			"bolt circle B1 has no hole_diameter"},
		{"no bore size", ring + "cylinders: [{id: C1, side: internal, at: [0, 0], cylindricity: 0.1}]", "cylinder C1 has no diameter"},
		{"no single hole's size", ring + "holes: [{id: X1, at: [20, 0], position: {diameter: 0.2}}]", "hole X1 has no diameter"},
		{"holes in each other", "bolt_circles: [{id: B1, count: 40, pitch_diameter: {nominal: 84}, hole_diameter: {nominal: 6.6}, clocking: {band: [-1, 1]}}]",
			"run into each other"},
		{"holes as large as their circle", "bolt_circles: [{id: B1, count: 3, pitch_diameter: {nominal: 6}, hole_diameter: {nominal: 6}, clocking: {band: [-1, 1]}}]",
			"leave no face between them"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := layOut(planOf(t, row.plan), 0, 0.5)
			var wrong *plan.Error
			require.ErrorAs(t, err, &wrong)
			assert.ErrorContains(t, err, row.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

// What the plan leaves open is said, and what cannot be carried is left out, not
// dropped in silence.
func TestAssumptionsAreSaid(t *testing.T) {
	l, err := layOut(planOf(t, ring+`
holes: [{id: X1, diameter: {nominal: 10, band: [-0.1, 0.1]}}]
cylinders:
  - {id: C1, side: internal, diameter: {nominal: 40, band: [-0.1, 0.1]}}
  - {id: C2, side: internal, diameter: {nominal: 84, band: [-0.1, 0.1]}}
planes: [{id: P1}, {id: P2, at: [0, 0, -12], normal: [0, 0, -1], flatness: 0.1}]
`), 0, 0.5)
	require.NoError(t, err)
	all := ""
	for _, s := range append(l.assumed, l.leftOut...) {
		all += s + "\n"
	}
	assert.Contains(t, all, "X1: it has no place (at) in the plan")
	assert.Contains(t, all, "C2: a bore of 84 mm there would cut into the holes.")
	assert.Contains(t, all, "P2: only the mounting face is simulated.")
	assert.Len(t, l.on, 6+1, "six holes and a bore")
	assert.Len(t, l.plan.Cylinders, 1)
	assert.Len(t, l.plan.Planes, 1)
}
