package fit_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// A short cylinder that is oval by e on its radius r. By symmetry the least-squares axis is
// the middle, and the radius r. There J'J of a tilt is N h²/24, and Σ f ∇²f beside it -N r e/4:
// 0.91 of it, so that each step of Gauss-Newton leaves so much of the error.
func TestShortOvalCylinder(t *testing.T) {
	const r, e, high = 46, 0.1, 5.5
	var pts []r3.Vector
	for i := range 180 {
		for j := range 25 {
			sin, cos := math.Sincos(float64(i) * math.Pi / 90)
			d := r + e*math.Cos(float64(i)*math.Pi/45)
			pts = append(pts, r3.Vector{X: d * cos, Y: d * sin, Z: high * (float64(j)/24 - 0.5)})
		}
	}
	start := fit.Cylinder{Axis: r3.Vector{X: 0.01, Y: 0.02, Z: 1}.Normalize(), Radius: r}
	got, err := fit.CylinderTo(pts, fit.Options{Start: start})
	require.NoError(t, err)
	assert.Less(t, got.Iters, 60)
	assert.InDelta(t, r, got.Radius, 1e-9)
	assert.InDelta(t, 0, got.Axis.Cross(r3.Vector{Z: 1}).Norm(), 1e-10)
}
