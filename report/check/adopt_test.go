package check

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report/internal/testpart"
)

// What the plan names is where the plan has it, to the last digit; all else as measured.
func TestAdopt(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	before := jsonOf(t, rep)
	out, said, err := Adopt(parse(t, testpart.Plan), rep)
	require.NoError(t, err)
	assert.Equal(t, before, jsonOf(t, rep), "the report is not changed")
	require.Len(t, out.BoltCircles[0].Clocking, 6)
	for i, k := range out.BoltCircles[0].Clocking {
		h := out.Hole(k.Hole)
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		assert.InDelta(t, 42*cos, h.Centre[0], 1e-9)
		assert.InDelta(t, 42*sin, h.Centre[1], 1e-9)
		assert.Equal(t, 6.6, h.Diameter)
	}
	assert.Equal(t, 40.0, out.Cylinder("C1").Diameter)
	assert.Equal(t, rep.Planes[0].Flatness, out.Planes[0].Flatness)
	require.Len(t, said, 2)
	// The third hole is 0.4 degrees off on a radius of 42: 2 r sin(0.2 deg).
	assert.Equal(t, "B1: pitch diameter 84 mm (measured 84.000), holes 6.6 mm (measured 6.610 to 6.610); H3 is farthest from its planned place: 0.293 mm.", said[0])
	assert.Equal(t, "C1: diameter 40 mm (measured 40.020).", said[1])

	_, said, err = Adopt(parse(t, `bolt_circles: [{id: B1, count: 8, pitch_diameter: {nominal: 120, band: [-1, 1]}}]
holes: [{id: X1, diameter: {nominal: 12, band: [-0.1, 0.2]}}]`), rep)
	require.NoError(t, err)
	assert.Equal(t, []string{"B1 was not found in the scan.", "X1 was not found in the scan."}, said)
}
