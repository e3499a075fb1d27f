package fit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

// Fits with something held, on a wall seen over 60 degrees where holding pays:
// what is held stays, what is fitted agrees with its stated covariance.
func TestHeldFitsAgreeWithScatter(t *testing.T) {
	t.Parallel()
	const noise = 0.003
	axis := r3.Vector{X: 2, Y: 3, Z: 6}.Mul(1.0 / 7)
	u, v := geom.Basis(axis)
	at := r3.Vector{X: 12, Y: -5, Z: 40}
	draw := func(i int) []r3.Vector {
		rng := rand.New(rand.NewPCG(60, uint64(i)))
		pts := make([]r3.Vector, 40)
		for k := range pts {
			s, c := math.Sincos(math.Pi / 3 * float64(k) / 40)
			r := 10 + noise*rng.NormFloat64()
			pts[k] = at.Add(u.Mul(r * c)).Add(v.Mul(r * s)).Add(axis.Mul(float64(k*7%13) - 6))
		}
		return pts
	}
	foot := func(pts []r3.Vector) r3.Vector {
		var h float64
		for _, p := range pts {
			h += p.Sub(at).Dot(axis) / float64(len(pts))
		}
		return at.Add(axis.Mul(h))
	}
	var radius, sphere tally
	for i := range trials.Draws(300, 2000) {
		pts := draw(i)
		o := foot(pts)

		f, err := fit.CylinderTo(pts, fit.Options{Radius: 10})
		if i >= 30 { // the start's search is slow; it is always found
			f, err = fit.CylinderTo(pts, fit.Options{Radius: 10, Start: fit.Cylinder{Point: at, Axis: axis, Radius: 7}})
		}
		require.NoError(t, err)
		require.InDelta(t, 10, f.Radius, 1e-13)
		require.Zero(t, f.Cov[4][4])
		d := f.Point.Sub(o)
		radius.note(t, []float64{d.Dot(u), d.Dot(v), f.Axis.Dot(u), f.Axis.Dot(v)}, func(i, j int) float64 { return f.Cov[i][j] })

		g, err := fit.CircleTo(flatten(pts, o, axis), fit.Options{Radius: 10})
		require.NoError(t, err)
		require.InDelta(t, 10, g.Radius, 1e-13)
		d = g.Centre.Sub(o)
		require.Less(t, d.Norm(), 0.05)

		s, err := fit.SphereTo(ball(i, noise), fit.Options{Radius: 10})
		require.NoError(t, err)
		require.InDelta(t, 10, s.Radius, 1e-13)
		sphere.note(t, []float64{s.Centre.X, s.Centre.Y, s.Centre.Z}, func(i, j int) float64 { return s.Cov[i][j] })

		p, err := fit.PlaneTo(flatten(pts, o, axis), fit.Options{Direction: axis})
		require.NoError(t, err)
		require.InDelta(t, 0, p.Distance(o), 1e-12)
	}
	radius.check(t, 36, "u", "v", "a", "b")
	sphere.check(t, 37, "x", "y", "z")
}

// flatten moves the points to the plane through o perpendicular to n.
func flatten(pts []r3.Vector, o, n r3.Vector) []r3.Vector {
	out := make([]r3.Vector, len(pts))
	for i, p := range pts {
		out[i] = p.Sub(n.Mul(p.Sub(o).Dot(n)))
	}
	return out
}

// ball is a cap of 40 degrees about Z of a sphere of radius 10 about zero.
func ball(i int, noise float64) []r3.Vector {
	rng := rand.New(rand.NewPCG(61, uint64(i)))
	pts := make([]r3.Vector, 40)
	for k := range pts {
		z := 1 - (1-math.Cos(40*math.Pi/180))*float64(k)/40
		s, c := math.Sincos(2.4 * float64(k))
		r := 10 + noise*rng.NormFloat64()
		q := math.Sqrt(1 - z*z)
		pts[k] = r3.Vector{X: r * q * c, Y: r * q * s, Z: r * z}
	}
	return pts
}

// Circles with the radius held: by hand, three points on a circle of radius 5
// about (1, 2), and the same points flattened a little.
func TestCircleOfHeldRadius(t *testing.T) {
	xy := []r3.Vector{{X: 6, Y: 2}, {X: 1, Y: 7}, {X: 1 + 3, Y: 2 + 4}, {X: 1 + 4, Y: 2 + 3}}
	f, err := fit.Circle2DTo(xy, fit.Options{Radius: 5})
	require.NoError(t, err)
	assert.InDelta(t, 1, f.Centre.X, 1e-13)
	assert.InDelta(t, 2, f.Centre.Y, 1e-13)
	assert.InDelta(t, 5, f.Radius, 1e-14)
	// A radius too large by 0.01 moves the centre away from the arc.
	f, err = fit.Circle2DTo(xy, fit.Options{Radius: 5.01})
	require.NoError(t, err)
	assert.Less(t, f.Centre.X+f.Centre.Y, 3.0)
	assert.Greater(t, f.Residuals.RMS, 0.0)
	assert.Zero(t, f.Cov[2][2])
	// A straight edge takes a radius if it is given.
	f, err = fit.Circle2DTo([]r3.Vector{{}, {X: 1, Y: 0.001}, {X: 2, Y: -0.001}, {X: 3}}, fit.Options{Radius: 40})
	require.NoError(t, err)
	assert.InDelta(t, 40, f.Radius, 1e-12)
	assert.InDelta(t, 40, math.Abs(f.Centre.Y), 0.1)
}

func TestWhatAShapeHasNotCannotBeHeld(t *testing.T) {
	pts := []r3.Vector{{X: 1}, {Y: 1}, {Z: 1}, {X: 2, Y: 1}, {X: 3, Z: 5}, {Y: 4, Z: -2}}
	var in *fit.InputError
	_, err := fit.PlaneTo(pts, fit.Options{Radius: 3})
	require.ErrorAs(t, err, &in)
	_, err = fit.ConeTo(pts, fit.Options{Radius: 3})
	require.ErrorAs(t, err, &in)
	_, err = fit.SphereTo(pts, fit.Options{Radius: -3})
	require.ErrorAs(t, err, &in)
	_, err = fit.SphereTo(pts, fit.Options{Radius: math.NaN()})
	require.ErrorAs(t, err, &in)
	z := r3.Vector{Z: 1}
	for _, o := range []fit.Options{
		{Direction: r3.Vector{X: math.NaN()}},
		{Start: fit.Plane{Normal: z}},
		{Start: fit.Cylinder{Axis: z}},
		{Start: fit.Cylinder{Radius: 1}},
	} {
		_, err = fit.CylinderTo(pts, o)
		require.ErrorAs(t, err, &in, "%+v", o)
	}
	_, err = fit.SphereTo(pts, fit.Options{Direction: z})
	require.ErrorAs(t, err, &in)
}
