package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
)

// waves is a noise that neighbouring points share: a sum of plane waves whose
// wave numbers are normally distributed, which makes a Gaussian correlation of
// the given length (Rasmussen & Williams 2006, section 4.2.1, spectral density).
func waves(rng *rand.Rand, sigma, length float64) func(r3.Vector) float64 {
	const n = 60
	var k [n]r3.Vector
	var phase [n]float64
	for i := range n {
		k[i] = r3.Vector{X: rng.NormFloat64() / length, Y: rng.NormFloat64() / length, Z: rng.NormFloat64() / length}
		phase[i] = 2 * math.Pi * rng.Float64()
	}
	return func(p r3.Vector) float64 {
		s := 0.0
		for i := range n {
			s += math.Cos(k[i].Dot(p) + phase[i])
		}
		return sigma * math.Sqrt(2.0/n) * s
	}
}

func scanOf(pts []r3.Vector) (*mesh.Scan, []int32) {
	s := &mesh.Scan{}
	idx := make([]int32, len(pts))
	for i, p := range pts {
		s.Offsets = append(s.Offsets, mesh.Vec32{float32(p.X), float32(p.Y), float32(p.Z)})
		idx[i] = int32(i)
	}
	return s, idx
}

// ringFace is an annulus of radius 20 to 60 with a bow of the given height.
func ringFace(rng *rand.Rand, n int, bow, white float64, shared func(r3.Vector) float64) (*mesh.Scan, *segment.Plane) {
	var pts []r3.Vector
	for len(pts) < n {
		p := r3.Vector{X: 120 * (rng.Float64() - 0.5), Y: 120 * (rng.Float64() - 0.5)}
		if r := p.Norm(); r < 20 || r > 60 {
			continue
		}
		p.Z = bow*p.X*p.X/3600 + white*rng.NormFloat64() + shared(p)
		pts = append(pts, p)
	}
	s, idx := scanOf(pts)
	pl := &segment.Plane{Region: segment.Region{ID: "P1", Points: idx}}
	// Least squares of z = a + bx + cy: on this symmetric face nearly the mean.
	m := 0.0
	for _, p := range pts {
		m += p.Z / float64(n)
	}
	pl.Plane = fit.Plane{Point: r3.Vector{Z: m}, Normal: r3.Vector{Z: 1}}
	return s, pl
}

func TestFlatnessOfPerfectFaces(t *testing.T) {
	trials := 200
	if testing.Short() {
		trials = 60
	}
	for _, length := range []float64{0, 2, 8, 13} {
		t.Run(fmt.Sprintf("correlation %g mm", length), func(t *testing.T) {
			cover, worst := 0, 0.0
			for i := range trials {
				rng := rand.New(rand.NewPCG(11, uint64(i)))
				white, shared := 0.02, func(r3.Vector) float64 { return 0 }
				if length > 0 {
					white, shared = 0.002, waves(rng, 0.02, length)
				}
				s, pl := ringFace(rng, 6000, 0, white, shared)
				f, u, ok := flatness(s, pl)
				require.True(t, ok)
				if f <= u {
					cover++
				}
				worst = max(worst, f)
			}
			t.Logf("covers zero %.3f, worst %.4f", float64(cover)/float64(trials), worst)
			assert.Less(t, worst, 0.09)
		})
	}
}

func TestFlatnessFindsABow(t *testing.T) {
	for i := range 20 {
		rng := rand.New(rand.NewPCG(12, uint64(i)))
		s, pl := ringFace(rng, 6000, 0.1, 0.02, func(r3.Vector) float64 { return 0 })
		f, u, ok := flatness(s, pl)
		require.True(t, ok)
		t.Log(f, u)
	}
}

func TestCylindricity(t *testing.T) {
	for i := range 5 {
		for _, oval := range []float64{0, 0.05} {
			rng := rand.New(rand.NewPCG(13, uint64(i)))
			sh := waves(rng, 0.02, 3)
			var pts []r3.Vector
			for range 8000 {
				a, h := 2*math.Pi*rng.Float64(), 12*rng.Float64()-6
				p := r3.Vector{X: 20 * math.Cos(a), Y: 20 * math.Sin(a), Z: h}
				r := 20 + oval*math.Cos(2*a) + 0.01*rng.NormFloat64() + sh(p)
				p.X, p.Y = r*math.Cos(a), r*math.Sin(a)
				pts = append(pts, p)
			}
			s, idx := scanOf(pts)
			k := &segment.Cylinder{Region: segment.Region{Points: idx}, Arc: 360 * s1.Degree, Extent: [2]float64{-6, 6}}
			k.Cylinder = fit.Cylinder{Axis: r3.Vector{Z: 1}, Radius: 20}
			f, u, ok := cylindricity(s, k)
			t.Log(oval, f, u, ok)
		}
	}
}
