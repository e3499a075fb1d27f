package segment

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// Surfaces of 4,000 points with noise of 0.02 mm and one form each, of a root mean
// square of four times that. Chance of a wrong kind: far below 1 in 1,000.
func TestFormKind(t *testing.T) {
	const noise, size, radius = 0.02, 80.0, 40.0
	flat := func(z func(u, v float64) float64) func(rng *rand.Rand) r3.Vector {
		return func(rng *rand.Rand) r3.Vector {
			u, v := rng.Float64()-0.5, rng.Float64()-0.5
			return r3.Vector{X: size * u, Y: size * v, Z: z(u, v)}
		}
	}
	round := func(lift func(angle, h float64) float64) func(rng *rand.Rand) r3.Vector {
		return func(rng *rand.Rand) r3.Vector {
			a, h := 2*math.Pi*rng.Float64(), rng.Float64()-0.5
			s, c := math.Sincos(a)
			r := radius + lift(a, h)
			return r3.Vector{X: r * c, Y: r * s, Z: 20 * h}
		}
	}
	const rms = 4 * noise
	for _, c := range []struct {
		name   string
		of     Form
		kind   kind
		point  func(rng *rand.Rand) r3.Vector
		length float64 // tolerance, relative
	}{
		{"perfect plane", Form{}, planeKind, flat(func(u, v float64) float64 { return 0 }), 0},
		// The variance of u² over -1/2 to 1/2 is 1/180.
		{"bow along x", Form{Bow, math.Sqrt2 * size, rms}, planeKind,
			flat(func(u, v float64) float64 { return rms * math.Sqrt(180) * (u*u - 1./12) }), 0.05},
		{"bow both ways", Form{Bow, math.Sqrt2 * size, rms}, planeKind,
			flat(func(u, v float64) float64 { return rms * math.Sqrt(90) * (u*u + v*v - 1./6) }), 0.05},
		// That of uv is 1/144.
		{"saddle", Form{Saddle, math.Sqrt2 * size, rms}, planeKind,
			flat(func(u, v float64) float64 { return rms * 12 * u * v }), 0.05},
		// The covariance of sin(kx)sin(ky) falls to 1/e at 1.36/k on the average over
		// directions: J0(√2 k d) = 1/e at √2 k d = 1.75, common practice, no source.
		{"waves 16 mm long", Form{Texture, 1.24 * 16 / (2 * math.Pi), rms}, planeKind,
			flat(func(u, v float64) float64 {
				return 2 * rms * math.Sin(10*math.Pi*u) * math.Sin(10*math.Pi*v)
			}), 0.25},
		{"perfect cylinder", Form{}, cylinderKind, round(func(_, _ float64) float64 { return 0 }), 0},
		// That of h over a length of one is 1/12.
		{"taper", Form{RMS: rms}, cylinderKind,
			round(func(_, h float64) float64 { return rms * math.Sqrt(12) * h }), 0},
		{"oval", Form{Oval, math.Pi * radius, rms}, cylinderKind,
			round(func(a, _ float64) float64 { return rms * math.Sqrt2 * math.Cos(2*a+1) }), 0.01},
		{"five lobes", Form{Lobes, 2 * math.Pi * radius / 5, rms}, cylinderKind,
			round(func(a, _ float64) float64 { return rms * math.Sqrt2 * math.Cos(5*a+1) }), 0.01},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			f := fitted{spacing: 1.3, shape: shape{kind: c.kind, a: r3.Vector{Z: 1}, r: radius}}
			for range 4000 {
				p := c.point(rng)
				n := r3.Vector{Z: 1}
				if c.kind == cylinderKind {
					n = r3.Vector{X: p.X, Y: p.Y}.Normalize()
				}
				f.pts = append(f.pts, p.Add(n.Mul(noise*rng.NormFloat64())))
			}
			got := formOf(&f, noise, 2*math.Pi)
			assert.Equal(t, c.of.Kind, got.Kind)
			assert.InEpsilon(t, 1+c.of.Length, 1+got.Length, c.length+1e-9)
			assert.InDelta(t, c.of.RMS, got.RMS, 0.05*rms)
		})
	}
}

// A wall of 12 mm with lobes of ±0.04 mm and noise of 0.02 mm is a cone if its draft is
// half a degree, which is 0.10 mm, and a cylinder if it has none; so it is where a
// draft is drowned in waves along it of ten times its mean square. Chance of a wrong
// answer: below 1 in 1,000 for the cylinder with 50 times the mean of 16 waves.
func TestDraft(t *testing.T) {
	const noise, radius, height = 0.02, 40.0, 12.0
	for _, c := range []struct {
		name  string
		draft float64 // degrees
		waves float64 // mm
		cone  bool
	}{
		{"drafted", 0.5, 0, true}, {"round", 0, 0, false}, {"drafted, with waves along the wall", 0.5, 0.3, false},
	} {
		rng := rand.New(rand.NewPCG(7, 1))
		var f fitted
		for range 3000 {
			a, h := 2*math.Pi*rng.Float64(), height*(rng.Float64()-0.5)
			r := radius + h*math.Tan(c.draft*math.Pi/180) + 0.04*math.Cos(3*a) +
				c.waves*math.Cos(2*a)*math.Sin(5*h/height) + c.waves*math.Cos(3*h) + noise*rng.NormFloat64()
			f.pts = append(f.pts, r3.Vector{X: r * math.Cos(a), Y: r * math.Sin(a), Z: h})
		}
		g, err := fit.From(fit.Cylinder{Axis: r3.Vector{Z: 1}, Radius: radius}, f.pts, fit.Options{})
		require.NoError(t, err, c.name)
		f.shape = shapeOf(g)
		r := run{tol: tolerance{floor: sigmas * noise}}
		k, ok := r.drafted(&f)
		assert.Equal(t, c.cone, ok, c.name)
		if ok {
			assert.InDelta(t, c.draft*math.Pi/180, k.sin, 0.0004, c.name)
		}
	}
}
