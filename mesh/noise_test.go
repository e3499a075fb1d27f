package mesh

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Known noise on known shapes. Over 30 seeds the ratio of estimate to truth
// scattered by 0.008 to 0.020 about a mean from 1.00 to 1.06, the excess being
// outliers within the band, edges, and walls that a quadric does not
// quite fit. The limits are five standard deviations from each row's mean: 20
// comparisons, fewer than one false alarm in 10,000 runs.
func TestNoiseOfKnownShapes(t *testing.T) {
	const sigma = 0.05
	shapes := []struct {
		name     string
		outliers float64
		lo, hi   float64 // of the ratio of estimate to truth
		make     func(c *cloudSampler)
	}{
		{"plane", 0, 0.95, 1.06, func(c *cloudSampler) { c.flat(0, 25, 8, 1, everywhere) }},
		{"cylinder of radius 5, spacing 0.35", 0, 0.95, 1.07, func(c *cloudSampler) { c.wall(0, 0, 5, 0, 60, 8, 1, nil) }},
		{"cylinder of radius 3, spacing 0.5", 0, 0.97, 1.10, func(c *cloudSampler) { c.wall(0, 0, 3, 0, 120, 4, -1, nil) }},
		{"box of many edges", 0, 0.92, 1.13, func(c *cloudSampler) { c.box(8, 8, 8, "xXyYzZ", 16) }},
		{"plate, a fifth outliers", 0.25, 1.00, 1.12, func(c *cloudSampler) { c.plate(6, 10, 5) }},
	}
	for _, s := range shapes {
		t.Run(s.name, func(t *testing.T) {
			for seed := range uint64(2) {
				c := newSampler(seed, sigma)
				s.make(c)
				c.outliers(s.outliers)
				tex, err := EstimateSampling(t.Context(), c.scan(), nil, seed, 0)
				require.NoError(t, err)
				for what, v := range map[string]float64{"rough": tex.LocalNoise, "noise": tex.Noise} {
					assert.GreaterOrEqual(t, v/sigma, s.lo, "seed %d: %s", seed, what)
					assert.LessOrEqual(t, v/sigma, s.hi, "seed %d: %s", seed, what)
				}
			}
		})
	}
}

// A plane whose noise has two lengths, as fused meshes have: of a pixel and a
// half, and of eight. Neighbours share most of it, so that LocalNoise must be
// small; broad patches must show most of the whole.
func TestNoiseThatNeighboursShare(t *testing.T) {
	const n, sigma = 200, 0.02
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 5))
		z := make([]float64, n*n)
		for _, part := range []struct{ length, share float64 }{{1.6, 0.6}, {8, 0.4}} {
			w := smoothNoise(rng, n, part.length)
			for i := range z {
				z[i] += sigma * math.Sqrt(part.share) * w[i]
			}
		}
		s := &Scan{}
		for i := range n * n {
			s.Offsets = append(s.Offsets, Vec32{float32(i % n), float32(i / n), float32(z[i])})
		}
		tex, err := EstimateSampling(t.Context(), s, nil, seed, 0)
		require.NoError(t, err)
		// Whole patches of noise agree only so far: 2 % over 40,000 points with
		// some 100 independent stretches of the long part.
		assert.Less(t, tex.LocalNoise, 0.45*sigma, "seed %d", seed)
		assert.Greater(t, tex.Noise, 0.8*sigma, "seed %d", seed)
		assert.Less(t, tex.Noise, 1.1*sigma, "seed %d", seed)
	}
}

// smoothNoise returns n by n values of variance 1, white noise smoothed by a
// Gaussian of the given standard deviation.
func smoothNoise(rng *rand.Rand, n int, length float64) []float64 {
	reach := int(3*length) + 1
	var kernel []float64
	sum := 0.0
	for k := -reach; k <= reach; k++ {
		g := math.Exp(-float64(k*k) / (2 * length * length))
		kernel = append(kernel, g)
		sum += g * g
	}
	m := n + 2*reach
	white := make([]float64, m*m)
	for i := range white {
		white[i] = rng.NormFloat64()
	}
	rows := make([]float64, m*n)
	for y := range m {
		for x := range n {
			for k, g := range kernel {
				rows[y*n+x] += g * white[y*m+x+k]
			}
		}
	}
	out := make([]float64, n*n)
	for y := range n {
		for x := range n {
			for k, g := range kernel {
				out[y*n+x] += g * rows[(y+k)*n+x]
			}
			out[y*n+x] /= sum
		}
	}
	return out
}

func TestTextureWithoutNoise(t *testing.T) {
	c := newSampler(1, 0)
	c.box(20, 20, 20, "xXyYzZ", 4)
	tex, err := EstimateSampling(t.Context(), c.scan(), nil, 1, 0)
	require.NoError(t, err)
	assert.Less(t, tex.Noise, 3e-6, "single precision of coordinates up to 20 mm")

	// On a sphere of radius 10 a patch is 0.6 mm wide; beyond its quadric the
	// surface bends by 0.6⁴/(8·10³) = 1.6e-5 mm.
	s := &Scan{Offsets: onSphere(rand.New(rand.NewPCG(1, 1)), 25_000, 10)}
	tex, err = EstimateSampling(t.Context(), s, nil, 1, 0)
	require.NoError(t, err)
	assert.Less(t, tex.LocalNoise, 1.6e-5, "curvature is no noise")
	assert.Less(t, tex.Noise, 1e-3)
}

func TestSpacing(t *testing.T) {
	triangular := &Scan{}
	for y := range 100 {
		for x := range 100 {
			triangular.Offsets = append(triangular.Offsets, Vec32{float32(0.3 * (float64(x) + 0.5*float64(y%2))), float32(0.3 * math.Sqrt(0.75) * float64(y)), 0})
		}
	}
	tex, err := EstimateSampling(t.Context(), triangular, nil, 1, 0)
	require.NoError(t, err)
	assert.InDelta(t, 0.3, tex.Spacing, 1e-5, "the pitch of a triangular grid")

	c := newSampler(4, 0)
	c.flat(0, 40, 16, 1, everywhere)
	tex, err = EstimateSampling(t.Context(), c.scan(), nil, 1, 0)
	require.NoError(t, err)
	// The distances to the third and fourth neighbour have means 0.9375 and
	// 1.094 over the root of the density (Γ(k+½)/(Γ(k)√π)): 1.015 between.
	assert.InDelta(t, 1.015/4, tex.Spacing, 0.01, "points strewn at 16 a mm²")
}

func TestTextureOfNextToNothing(t *testing.T) {
	for name, pts := range map[string][]Vec32{
		"no point": nil, "one point": {{1, 2, 3}}, "one place": make([]Vec32, 100),
		"eleven points": onSphere(rand.New(rand.NewPCG(1, 1)), 11, 4),
	} {
		tex, err := EstimateSampling(t.Context(), &Scan{Offsets: pts}, nil, 1, 0)
		require.NoError(t, err, name)
		assert.Zero(t, tex.LocalNoise, name)
		assert.Zero(t, tex.Noise, name)
		assert.False(t, math.IsNaN(tex.Spacing), name)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := EstimateSampling(ctx, &Scan{}, nil, 1, 0)
	assert.ErrorIs(t, err, context.Canceled)
}

func ExampleEstimateSampling() {
	// A flat grid of pitch 0.2 mm with independent noise of 0.03 mm.
	rng := rand.New(rand.NewPCG(1, 1))
	s := &Scan{}
	for y := range 150 {
		for x := range 150 {
			s.Offsets = append(s.Offsets, Vec32{0.2 * float32(x), 0.2 * float32(y), float32(0.03 * rng.NormFloat64())})
		}
	}
	tex, err := EstimateSampling(context.Background(), s, nil, 1, 0)
	fmt.Printf("spacing %.1f mm, noise %.2f mm %v\n", tex.Spacing, tex.Noise, err)
	// Output: spacing 0.2 mm, noise 0.03 mm <nil>
}

func BenchmarkEstimateSampling(b *testing.B) {
	const n = 1_000_000
	s := &Scan{Offsets: onSphere(rand.New(rand.NewPCG(5, 5)), n, 50)}
	ix := NewKDTree(s.Offsets, 0)
	for b.Loop() {
		_, _ = EstimateSampling(b.Context(), s, ix, 1, 0)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/pt")
}
