package fit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/mesh/geom"
	"spotface/mesh/scansim/trials"
)

// pose is a random placement: a direction, its frame, a place, a size.
type pose struct {
	at, w, u, v r3.Vector
	size        float64
}

func randomUnit(rng *rand.Rand) r3.Vector {
	for {
		v := r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}
		if n := v.Norm(); n > 1e-3 {
			return v.Mul(1 / n)
		}
	}
}

// randomPose has a size of 0.01 to 100 mm, ten sizes or so off the origin.
func randomPose(rng *rand.Rand) pose {
	p := pose{w: randomUnit(rng), size: math.Pow(10, 4*rng.Float64()-2)}
	p.u, p.v = geom.Basis(p.w)
	p.at = r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Mul(10 * p.size)
	return p
}

// point returns the point at angle phi, radius r and height h, in units of size.
func (p pose) point(phi, r, h float64) r3.Vector {
	s, c := math.Sincos(phi)
	return p.at.Add(p.u.Mul(r * c * p.size)).Add(p.v.Mul(r * s * p.size)).Add(p.w.Mul(h * p.size))
}

// arcs names how much of the turn is seen; each trial takes the next one.
// Noise is of the radius. The sagitta of 20 degrees is 0.015 r.
var arcs = []struct {
	name       string
	arc, noise float64
}{
	{"full", 2 * math.Pi, 0.01},
	{"270°", 3 * math.Pi / 2, 0.01},
	{"180°", math.Pi, 0.005},
	{"90°", math.Pi / 2, 0.002},
	{"60°", math.Pi / 3, 0.001},
	{"20°", math.Pi / 9, 0.0002},
}

// A random circle, sphere, cylinder or cone, of which nothing but points is
// known. The fit must be as good as the truth (which no wrong minimum is), its
// answer within 8 stated standard deviations of it (for a right program one in
// 1e14, noise being normal and 12 points or more).
func TestCirclePoses(t *testing.T) {
	t.Parallel()
	for i := range trials.Draws(100, 1000) {
		rng := rand.New(rand.NewPCG(1, uint64(i)))
		p, a := randomPose(rng), arcs[i%len(arcs)]
		n := 12 + rng.IntN(60)
		var pts []r3.Vector
		var xy []r3.Vector
		var rms, rms2 float64
		for range n {
			e, h := a.noise*rng.NormFloat64(), a.noise*rng.NormFloat64()
			phi := a.arc * rng.Float64()
			pts = append(pts, p.point(phi, 1+e, h))
			s, c := math.Sincos(phi)
			xy = append(xy, r3.Vector{X: p.at.X + p.size*(1+e)*c, Y: p.at.Y + p.size*(1+e)*s})
			rms += (e*e + h*h) / float64(n)
			rms2 += e * e / float64(n)
		}
		f, err := fit.CircleTo(pts, fit.Options{})
		require.NoError(t, err, "%d %s", i, a.name)
		require.LessOrEqual(t, f.Residuals.RMS, math.Sqrt(rms)*p.size*(1+1e-9), "%d %s", i, a.name)
		require.InDelta(t, p.size, f.Radius, 8*math.Sqrt(f.Cov[5][5]), "%d %s", i, a.name)

		g, err := fit.Circle2DTo(xy, fit.Options{})
		require.NoError(t, err, "%d %s", i, a.name)
		require.LessOrEqual(t, g.Residuals.RMS, math.Sqrt(rms2)*p.size*(1+1e-9), "%d %s", i, a.name)
		require.InDelta(t, p.size, g.Radius, 8*math.Sqrt(g.Cov[2][2]), "%d %s", i, a.name)
	}
}

func TestSpherePoses(t *testing.T) {
	t.Parallel()
	for i := range trials.Draws(100, 1000) {
		rng := rand.New(rand.NewPCG(2, uint64(i)))
		p, a := randomPose(rng), arcs[i%len(arcs)]
		n := 16 + rng.IntN(60)
		var pts []r3.Vector
		var ss float64
		for range n {
			// A cap as wide as the arc, evenly filled.
			z := 1 - (1-math.Cos(a.arc/2))*rng.Float64()
			e := a.noise * rng.NormFloat64()
			r := 1 + e
			pts = append(pts, p.point(2*math.Pi*rng.Float64(), r*math.Sqrt(1-z*z), r*z))
			ss += e * e / float64(n)
		}
		f, err := fit.SphereTo(pts, fit.Options{})
		require.NoError(t, err, "%d %s", i, a.name)
		require.LessOrEqual(t, f.Residuals.RMS, math.Sqrt(ss)*p.size*(1+1e-9), "%d %s", i, a.name)
		require.InDelta(t, p.size, f.Radius, 8*math.Sqrt(f.Cov[3][3]), "%d %s", i, a.name)
	}
}

// Cylinders of a tenth of their diameter to 20 diameters long, and arcs. Alone
// must find what an iteration from the truth finds.
func TestCylinderPoses(t *testing.T) {
	t.Parallel()
	for i := range trials.Draws(100, 1000) {
		rng := rand.New(rand.NewPCG(3, uint64(i)))
		p, a := randomPose(rng), arcs[i%len(arcs)]
		n := 30 + rng.IntN(60)
		length := 0.2 * math.Pow(200, rng.Float64())
		if i%3 == 0 {
			length = 0.2
		}
		var pts []r3.Vector
		for range n {
			e := min(a.noise, length/200) * rng.NormFloat64()
			pts = append(pts, p.point(a.arc*rng.Float64(), 1+e, length*(rng.Float64()-0.5)))
		}
		want, err := fit.CylinderTo(pts, fit.Options{Start: fit.Cylinder{Point: p.at, Axis: p.w, Radius: p.size}})
		require.NoError(t, err, "%d %s length %g", i, a.name, length)
		got, err := fit.CylinderTo(pts, fit.Options{})
		require.NoError(t, err, "%d %s length %g", i, a.name, length)
		require.InEpsilon(t, want.Residuals.RMS, got.Residuals.RMS, 1e-9, "%d %s length %g", i, a.name, length)
		require.InEpsilon(t, want.Radius, got.Radius, 1e-9, "%d %s length %g", i, a.name, length)
		require.InDelta(t, p.size, got.Radius, 8*math.Sqrt(got.Cov[4][4]), "%d %s length %g", i, a.name, length)
	}
}

// Cones of 1 to 85 degrees half angle, full and seen over 60 to 240 degrees.
func TestConePoses(t *testing.T) {
	t.Parallel()
	for i := range trials.Draws(100, 1000) {
		rng := rand.New(rand.NewPCG(4, uint64(i)))
		p := randomPose(rng)
		n := 40 + rng.IntN(60)
		half := s1.Angle(1+84*rng.Float64()) * s1.Degree
		arc := 2 * math.Pi
		if i%2 == 1 {
			arc = math.Pi * (1.0/3 + rng.Float64())
		}
		from := 0.2 + 2*rng.Float64()
		length := 0.5 + 2*rng.Float64()
		if half < 6*s1.Degree { // start where the section is as large as its height
			from = 1 / math.Sin(half.Radians())
		}
		sin, cos := math.Sincos(half.Radians())
		var pts []r3.Vector
		for range n {
			l, e := from+length*rng.Float64(), 0.0005*rng.NormFloat64()
			pts = append(pts, p.point(arc*rng.Float64(), l*sin+e*cos, l*cos-e*sin))
		}
		want, err := fit.ConeTo(pts, fit.Options{Start: fit.Cone{Apex: p.at, Axis: p.w, HalfAngle: half}})
		require.NoError(t, err, "%d %v arc %g", i, half, arc)
		got, err := fit.ConeTo(pts, fit.Options{})
		require.NoError(t, err, "%d %v arc %g", i, half, arc)
		require.InEpsilon(t, want.Residuals.RMS, got.Residuals.RMS, 1e-9, "%d %v arc %g", i, half, arc)
		require.InDelta(t, want.HalfAngle.Radians(), got.HalfAngle.Radians(), 1e-9, "%d %v arc %g", i, half, arc)
		require.InDelta(t, half.Radians(), got.HalfAngle.Radians(), 8*math.Sqrt(got.Cov[5][5]), "%d %v arc %g", i, half, arc)
	}
}
