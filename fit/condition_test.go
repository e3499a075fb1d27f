package fit_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// The covariance of a circle over an arc of half angle al in closed form: with
// centre along the bisector a and radius r correlated by rho = -c1/√c2, the
// eigenvalues of the correlation matrix are 1 - |rho|, 1, 1 + |rho|.
//
// Source: testdata/references/formulas.json, circle-fit-covariance-arc
// (Chan & Thomas, CVGIP 57 (1995) 527-532).
func TestConditionOfAnArc(t *testing.T) {
	for _, arc := range []float64{20, 45, 90, 180, 360} {
		const n = 2000
		al := arc / 2 * math.Pi / 180
		xy := make([]r3.Vector, n)
		for i := range xy {
			a := al * (2*(float64(i)+0.5)/n - 1)
			r := 10 + 1e-5*float64(i%2*2-1) // a covariance needs residuals
			xy[i] = r3.Vector{X: r * math.Cos(a), Y: r * math.Sin(a)}
		}
		f, err := fit.Circle2DTo(xy, fit.Options{})
		require.NoError(t, err)
		c1 := math.Sin(al) / al
		c2 := 0.5 + math.Sin(2*al)/(4*al)
		rho := math.Abs(c1) / math.Sqrt(c2)
		want := math.Sqrt((1 + rho) / (1 - rho))
		assert.InEpsilon(t, want, fit.Condition(f.Covariance()), 1e-3, "%v degrees", arc)
	}
}

// A held axis leaves a circle's three parameters; all round they are determined
// alike.
func TestConditionOfAHeldAxis(t *testing.T) {
	var pts []r3.Vector
	for i := range 360 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 180)
		r := 5 + 1e-4*float64(i%2*2-1)
		pts = append(pts, r3.Vector{X: r * cos, Y: r * sin, Z: float64(i % 7)})
	}
	f, err := fit.CylinderTo(pts, fit.Options{Direction: r3.Vector{Z: 1}})
	require.NoError(t, err)
	assert.InDelta(t, 1, fit.Condition(f.Covariance()), 1e-2)
	assert.Zero(t, fit.Condition(fit.PlaneFit{}.Covariance()), "nothing fitted, nothing known")
}
