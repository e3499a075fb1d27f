package form

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/mesh/scansim/trials"
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

// noiseOf is noise of 0.02 mm, shared over a length, or white: what is independent from
// point to point, and what is not.
func noiseOf(rng *rand.Rand, length float64) (white float64, shared func(r3.Vector) float64) {
	if length == 0 {
		return 0.02, func(r3.Vector) float64 { return 0 }
	}
	return 0.002, waves(rng, 0.02, length)
}

// ringFace is an annulus of radius 20 to 60 with a bow of the given height.
func ringFace(rng *rand.Rand, n int, bow, white float64, shared func(r3.Vector) float64) (pts []r3.Vector, pl fit.Plane) {
	for len(pts) < n {
		p := r3.Vector{X: 120 * (rng.Float64() - 0.5), Y: 120 * (rng.Float64() - 0.5)}
		if r := p.Norm(); r < 20 || r > 60 {
			continue
		}
		p.Z = bow*p.X*p.X/3600 + white*rng.NormFloat64() + shared(p)
		pts = append(pts, p)
	}
	// Least squares of z = a + bx + cy: on this symmetric face nearly the mean.
	m := 0.0
	for _, p := range pts {
		m += p.Z / float64(n)
	}
	return pts, fit.Plane{Point: r3.Vector{Z: m}, Normal: r3.Vector{Z: 1}}
}

// perfectFaces returns how many of n perfect faces hold zero, in 0.02 mm of noise that
// points share over a length, and the largest reading.
func perfectFaces(t *testing.T, n int, length float64) (hold int, worst float64) {
	for i := range n {
		rng := rand.New(rand.NewPCG(11, uint64(i)))
		white, shared := noiseOf(rng, length)
		s, pl := ringFace(rng, 1500, 0, white, shared)
		f, ok := Flatness(s, pl, 0)
		require.True(t, ok)
		if f.Width <= f.Expanded {
			hold++
		}
		worst = max(worst, f.Width)
	}
	return hold, worst
}

// A perfect face with 0.02 mm of noise, shared along the surface or not, must not
// read the noise's own range, some 0.16 mm, and its interval holds zero in 95 % of
// faces. Noise shared over a quarter of the face and more is no longer distinguished from form,
// and says so. False-alarm rate: 1e-4 a length. The largest reading has no theory
// behind it here: half the noise's range is the bound.
func TestFlatnessOfPerfectFaces(t *testing.T) {
	n := trials.Of(6, 4)
	for _, length := range []float64{0, 8, 30} {
		hold, worst := perfectFaces(t, n, length)
		assert.GreaterOrEqual(t, hold, trials.Least(n, 0.95, 1e-4), "correlation %g mm", length)
		assert.Less(t, worst, 0.08, "correlation %g mm", length)
	}
}

// A face of 72 by 5 mm in any direction is read as others are: a perfect one holds zero
// and one with a bow of 0.1 mm along it that, in 95 % of faces each; the bow is found
// from independent noise. False-alarm rate: 1e-4 a length and bow.
func TestFlatnessOfNarrowFaces(t *testing.T) {
	const n = 6
	for _, length := range []float64{0, 4} {
		for _, bow := range []float64{0, 0.1} {
			hold := 0
			for i := range n {
				rng := rand.New(rand.NewPCG(19, uint64(i)))
				white, shared := noiseOf(rng, length)
				sin, cos := math.Sincos(float64(i))
				var pts []r3.Vector
				for range 2000 {
					u, v := 72*(rng.Float64()-0.5), 5*(rng.Float64()-0.5)
					p := r3.Vector{X: u*cos - v*sin, Y: u*sin + v*cos}
					p.Z = bow*u*u/36/36 + white*rng.NormFloat64() + shared(p)
					pts = append(pts, p)
				}
				pl, err := fit.PlaneTo(pts, fit.Options{})
				require.NoError(t, err)
				f, ok := Flatness(pts, pl.Plane, 0)
				require.True(t, ok)
				if math.Abs(f.Width-bow) <= f.Expanded {
					hold++
				}
				if bow > 0 && length == 0 {
					assert.Greater(t, f.Width, 3*f.Expanded)
				}
			}
			t.Logf("noise over %g mm, bow %g: %d of %d", length, bow, hold, n)
			assert.GreaterOrEqual(t, hold, trials.Least(n, 0.95, 1e-4), "noise over %g mm, bow %g", length, bow)
		}
	}
}

// A bow of 0.1 mm is found within its expanded uncertainty, in 95 % of faces.
// False-alarm rate: 1e-4.
func TestFlatnessFindsABow(t *testing.T) {
	n := trials.Of(6, 4)
	hit := 0
	for i := range n {
		rng := rand.New(rand.NewPCG(12, uint64(i)))
		s, pl := ringFace(rng, 6000, 0.1, 0.02, func(r3.Vector) float64 { return 0 })
		f, ok := Flatness(s, pl, 0)
		require.True(t, ok)
		assert.Less(t, f.Expanded, 0.01)
		if math.Abs(f.Width-0.1) <= f.Expanded {
			hit++
		}
	}
	assert.GreaterOrEqual(t, hit, trials.Least(n, 0.95, 1e-4))
}

// bowedFaces returns how many of n faces with a bow of 0.1 mm hold it, in 0.02 mm of
// noise that points share over a length, and how many tell it from the noise.
func bowedFaces(t *testing.T, n int, length float64) (hold, found int) {
	for i := range n {
		rng := rand.New(rand.NewPCG(17, uint64(i)))
		white, shared := noiseOf(rng, length)
		s, pl := ringFace(rng, 3000, 0.1, white, shared)
		f, ok := Flatness(s, pl, 0)
		require.True(t, ok)
		if math.Abs(f.Width-0.1) <= f.Expanded {
			hold++
		}
		if !f.OrNoise && f.Width > f.Expanded {
			found++
		}
	}
	return hold, found
}

// A bow of 0.1 mm in noise that neighbours share is found, too: where it is distinguished
// from the noise its interval leaves out zero and holds 0.1 mm, in 95 % of faces, and
// where it is not, the report says so. Noise shared over a thirtieth of the face does
// not pass for a bow in 95 %. False-alarm rate: 1e-4 for each.
func TestFlatnessOfABowInSharedNoise(t *testing.T) {
	n := trials.Of(6, 4)
	for _, length := range []float64{4, 30} {
		hold, found := bowedFaces(t, n, length)
		assert.GreaterOrEqual(t, hold, trials.Least(n, 0.95, 1e-4), "%g mm", length)
		if length < 12 {
			assert.GreaterOrEqual(t, found, trials.Least(n, 0.95, 1e-4), "%g mm", length)
		}
	}
}

func TestFlatnessFindsADent(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 1))
	dent := func(p r3.Vector) float64 {
		if math.Hypot(p.X-42, p.Y) < 10 {
			return -0.2
		}
		return 0
	}
	s, pl := ringFace(rng, 6000, 0, 0.02, dent)
	f, ok := Flatness(s, pl, 0)
	require.True(t, ok)
	assert.InDelta(t, 0.2, f.Width, 0.04)
}

// Texture of 0.1 mm rms that changes over 3 mm: its flatness is its range, which the
// simulation knows without noise.
func TestFlatnessOfTexture(t *testing.T) {
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(16, seed))
		rough := waves(rng, 0.1, 3)
		s, pl := ringFace(rng, 15_000, 0, 0.02, rough)
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range s {
			z := rough(p)
			low, high = min(low, z), max(high, z)
		}
		f, ok := Flatness(s, pl, 0.02)
		require.True(t, ok)
		assert.InDelta(t, high-low, f.Width, 0.2*(high-low))
		assert.InDelta(t, high-low, f.Width, f.Expanded)
	}
}

func TestFlatnessOfAScrapIsNotGiven(t *testing.T) {
	s, pl := ringFace(rand.New(rand.NewPCG(15, 1)), 100, 0, 0.02, func(r3.Vector) float64 { return 0 })
	_, ok := Flatness(s, pl, 0)
	assert.False(t, ok)
	_, ok = Flatness(nil, fit.Plane{Normal: r3.Vector{Z: 1}}, 0)
	assert.False(t, ok)
}

// bore is one of radius 20 and of a height, oval by the given half difference of
// radii, with 0.02 mm of noise that points share over the given length.
func bore(seed uint64, height, oval, length float64) (pts []r3.Vector, k fit.Cylinder) {
	rng := rand.New(rand.NewPCG(13, seed))
	white, shared := noiseOf(rng, length)
	for range 4000 {
		a, h := 2*math.Pi*rng.Float64(), height*(rng.Float64()-0.5)
		p := r3.Vector{X: 20 * math.Cos(a), Y: 20 * math.Sin(a), Z: h}
		r := 20 + oval*math.Cos(2*a) + white*rng.NormFloat64() + shared(p)
		pts = append(pts, r3.Vector{X: p.X * r / 20, Y: p.Y * r / 20, Z: h})
	}
	return pts, fit.Cylinder{Axis: r3.Vector{Z: 1}, Radius: 20}
}

// bores returns how many of n bores hold their form, of an oval of so much on the
// radius: twice that (ISO 12180-1: cylindricity is a difference of radii).
func bores(t *testing.T, n int, first uint64, height, oval, length float64) (hold int) {
	for i := range uint64(n) {
		s, k := bore(first+i, height, oval, length)
		f, ok := Cylindricity(s, k, [2]float64{-height / 2, height / 2}, 0)
		require.True(t, ok)
		if math.Abs(f.Width-2*oval) <= f.Expanded {
			hold++
		}
		if length == 0 {
			assert.Less(t, f.Expanded, 0.03, "a fifth of the noise's range")
		}
	}
	return hold
}

// A round bore reads zero within its uncertainty, and one that is 0.05 mm oval on the
// radius reads 0.1 mm, in 95 % of bores. Noise that reaches over a quarter of the
// radius, over half and over all of it is no form, in a shallow bore as in a deep one;
// an ovality in it is contained, too, distinguished from the noise or said to be unclear.
// False-alarm rate: 1e-4 a row.
func TestCylindricity(t *testing.T) {
	n := trials.Of(6, 3)
	for _, row := range []struct{ height, oval, length float64 }{
		{12, 0, 0}, {12, 0.05, 0}, {12, 0, 5}, {12, 0, 20}, {12, 0.05, 10}, {40, 0, 15},
	} {
		assert.GreaterOrEqual(t, bores(t, n, 100, row.height, row.oval, row.length), trials.Least(n, 0.95, 1e-4), "%+v", row)
	}
	_, ok := Cylindricity(nil, fit.Cylinder{Axis: r3.Vector{Z: 1}, Radius: 20}, [2]float64{}, 0)
	assert.False(t, ok, "nothing of it was seen")
}

func BenchmarkForm(b *testing.B) {
	rng := rand.New(rand.NewPCG(16, 1))
	s, pl := ringFace(rng, 6000, 0, 0.02, func(r3.Vector) float64 { return 0 })
	b.Run("face", func(b *testing.B) {
		for b.Loop() {
			Flatness(s, pl, 0)
		}
	})
	s, k := bore(1, 12, 0, 0)
	b.Run("bore", func(b *testing.B) {
		for b.Loop() {
			Cylindricity(s, k, [2]float64{-6, 6}, 0)
		}
	})
}

// A saddle, known by hand (twice its height), in a plane's points without noise.
func ExampleFlatness() {
	var pts []r3.Vector
	for i := range 60 * 60 {
		u, v := float64(i%60)-29.5, float64(i/60)-29.5
		pts = append(pts, r3.Vector{X: u, Y: v, Z: 0.1 * (u*u - v*v) / (29.5 * 29.5)})
	}
	f, ok := Flatness(pts, fit.Plane{Normal: r3.Vector{Z: 1}}, 0)
	fmt.Printf("flat within %.2f mm, %v\n", f.Width, ok)
	// Output: flat within 0.20 mm, true
}
