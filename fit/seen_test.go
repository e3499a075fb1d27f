package fit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

func TestSeen(t *testing.T) {
	for i := range 50 {
		rng := rand.New(rand.NewPCG(90, uint64(i)))
		p := randomPose(rng)
		arc := 2 * math.Pi * (0.02 + 0.95*rng.Float64())
		turn := 7 * rng.Float64()
		var pts []r3.Vector
		for k := range 500 {
			pts = append(pts, p.point(turn+arc*float64(k)/499, 1, -2+5*float64(k*7%500)/499))
		}
		s := fit.Cylinder{Point: p.at, Axis: p.w, Radius: p.size}.Seen(pts)
		assert.InDelta(t, arc, s.Arc.Radians(), 1e-9)
		assert.InDelta(t, -2*p.size, s.From, 1e-12*p.at.Norm())
		assert.InDelta(t, 3*p.size, s.To, 1e-12*p.at.Norm())
		c := fit.Circle{Centre: p.at, Normal: p.w, Radius: p.size}.Seen(pts)
		assert.Equal(t, s, c)
		assert.Equal(t, s, fit.Cone{Apex: p.at, Axis: p.w, HalfAngle: s1.Degree}.Seen(pts))
	}
	assert.Zero(t, fit.Cylinder{}.Seen(nil))
}

// A rim's centre put on a face leaning 20 degrees to it: by Monte Carlo, 4,000
// trials, see TestJointFaceReachesTheBound.
func TestCentreOnAgreesWithScatter(t *testing.T) {
	trials, tol := 4000, 0.05
	if testing.Short() {
		trials, tol = 500, 0.15
	}
	face := fit.Plane{Point: r3.Vector{Z: 3}, Normal: r3.Vector{X: math.Sin(0.35), Z: math.Cos(0.35)}}
	e1, e2 := fit.Frame(face.Normal)
	want := face.Normal.Mul(face.Point.Dot(face.Normal)) // the foot of the origin
	var y tally
	for i := range trials {
		rng := rand.New(rand.NewPCG(91, uint64(i)))
		var pts []r3.Vector
		for k := range 40 {
			s, c := math.Sincos(2 * float64(k) / 40)
			r := 6 + 0.01*rng.NormFloat64()
			pts = append(pts, r3.Vector{X: r * c, Y: r * s, Z: 0.01 * rng.NormFloat64()})
		}
		f, err := fit.CircleTo(pts, fit.Options{})
		require.NoError(t, err)
		p, cov := f.CentreOn(face)
		require.InDelta(t, 0, face.Distance(p), 1e-12)
		d := p.Sub(want)
		y.note(t, []float64{d.Dot(e1), d.Dot(e2)}, func(i, j int) float64 { return cov[i][j] })
	}
	y.check(t, 74, tol, "e1", "e2")
}
