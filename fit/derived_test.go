package fit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// Where an axis meets a face 10 mm away and 20 degrees off square, by Monte
// Carlo of both fits: 4,000 trials, see TestJointFaceReachesTheBound.
func TestAxisMeetsAgreesWithScatter(t *testing.T) {
	t.Parallel()
	trials, tol := 4000, 0.05
	if testing.Short() {
		trials, tol = 500, 0.15
	}
	axis := r3.Vector{X: 2, Y: 3, Z: 6}.Mul(1.0 / 7)
	u, v := fit.Frame(axis)
	normal := axis.Mul(math.Cos(0.35)).Add(u.Mul(math.Sin(0.35)))
	e1, e2 := fit.Frame(normal)
	var y, slope tally
	for i := range trials {
		rng := rand.New(rand.NewPCG(40, uint64(i)))
		var wall, face []r3.Vector
		for k := range 60 {
			s, c := math.Sincos(float64(k))
			r := 8 + 0.01*rng.NormFloat64()
			wall = append(wall, u.Mul(r*c).Add(v.Mul(r*s)).Add(axis.Mul(-10-float64(k%13))))
			face = append(face, e1.Mul(10+8*c).Add(e2.Mul(14*s)).Add(normal.Mul(0.03*rng.NormFloat64())))
		}
		w, err := fit.CylinderFrom(fit.Cylinder{Axis: axis, Radius: 8}, wall, fit.Options{})
		require.NoError(t, err)
		f, err := fit.PlaneTo(face, fit.Options{})
		require.NoError(t, err)
		p, cov, ok := w.AxisMeets(f)
		require.True(t, ok)
		require.InDelta(t, 0, f.Distance(p), 1e-12)
		require.InDelta(t, 0, p.Sub(w.Point).Cross(w.Axis).Norm(), 1e-12)
		y.note(t, []float64{p.Dot(e1), p.Dot(e2)}, func(i, j int) float64 { return cov[i][j] })
		a, au := fit.AngleBetween(w, f)
		slope.note(t, []float64{a.Radians() - 0.35}, func(i, j int) float64 { return au.Radians() * au.Radians() })
	}
	y.check(t, 55, tol, "e1", "e2")
	slope.check(t, 55, tol, "angle")

	_, _, ok := fit.CylinderFit{Cylinder: fit.Cylinder{Axis: e1}}.AxisMeets(fit.PlaneFit{Plane: fit.Plane{Normal: normal}})
	assert.False(t, ok)
}

func TestAngleBetweenByHand(t *testing.T) {
	a := fit.PlaneFit{Plane: fit.Plane{Normal: r3.Vector{Z: 1}}}
	b := fit.LineFit{Line: fit.Line{Direction: r3.Vector{X: -1, Z: -1}.Normalize()}}
	angle, u := fit.AngleBetween(a, b)
	assert.InDelta(t, 45, angle.Degrees(), 1e-12)
	assert.Zero(t, u)
	a.Cov[1][1], a.Cov[2][2] = 4e-6, 9e-6
	_, u = fit.AngleBetween(a, b)
	e1, _ := fit.Frame(a.Normal) // e1 is ±X here, in the common plane
	require.InDelta(t, 1, math.Abs(e1.X), 1e-15)
	assert.InDelta(t, 2e-3, u.Radians(), 1e-15)
	angle, u = fit.AngleBetween(a, a)
	assert.Zero(t, angle)
	assert.InDelta(t, math.Sqrt(13e-6), u.Radians(), 1e-15)
}

func TestFrameIsRightHanded(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 0))
	for i := range 1000 {
		n := randomUnit(rng)
		switch i {
		case 0:
			n = r3.Vector{Z: 1}
		case 1:
			n = r3.Vector{Z: -1}
		case 2:
			n = r3.Vector{X: 1}
		case 3:
			n = r3.Vector{X: 1e-9, Z: -1}.Normalize()
		}
		e1, e2 := fit.Frame(n)
		assert.InDelta(t, 0, e1.Cross(e2).Sub(n).Norm(), 1e-15)
		assert.InDelta(t, 1, e1.Norm(), 1e-15)
		assert.InDelta(t, 1, e2.Norm(), 1e-15)
	}
}
