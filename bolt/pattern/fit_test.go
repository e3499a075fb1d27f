package pattern

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/scansim/trials"
)

// regular returns n places of a ring.
func regular(n int, radius float64) [][2]float64 {
	out := make([][2]float64, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = [2]float64{radius * cos, radius * sin}
	}
	return out
}

// known returns places with a covariance of their own each.
func known(xy [][2]float64, cov [2][2]float64) Places {
	p := Places{XY: xy, Cov: mat.NewSymDense(2*len(xy), nil)}
	for i := range xy {
		p.Cov.SetSym(2*i, 2*i, cov[0][0])
		p.Cov.SetSym(2*i, 2*i+1, cov[0][1])
		p.Cov.SetSym(2*i+1, 2*i+1, cov[1][1])
	}
	return p
}

// The worked example of Umeyama (IEEE Trans. PAMI 13 (1991) 376-380, section III; its
// digits from memory): a right-angled triangle laid on its mirror image.
func TestUmeyamasExample(t *testing.T) {
	f, err := To([][2]float64{{0, 0}, {1, 0}, {0, 2}},
		known([][2]float64{{0, 0}, {-1, 0}, {0, 2}}, [2][2]float64{{1, 0}, {0, 1}}), Options{})
	require.NoError(t, err)
	assert.InDelta(t, 0.721, f.Scale, 5e-4)
	assert.InDelta(t, 0.832, math.Cos(f.Turn.Radians()), 5e-4)
	assert.InDelta(t, -0.555, math.Sin(f.Turn.Radians()), 5e-4)
	assert.InDelta(t, -0.800, f.Centre[0], 5e-4)
	assert.InDelta(t, 0.400, f.Centre[1], 5e-4)
}

// options are all that may be held, and by what places are weighed.
func options() map[string]Options {
	at := [2]float64{3.1, -2.2}
	return map[string]Options{
		"all free":                  {},
		"scale held":                {Scale: 1.01},
		"centre held":               {Centre: &at},
		"turn alone, by variance":   {Centre: &at, Scale: 1.01, ByVariance: true},
		"some places, by variance":  {Use: []int{0, 2, 3}, ByVariance: true},
		"some places, scale held":   {Use: []int{0, 1, 4}, Scale: 1.01},
		"two places":                {Use: []int{1, 3}},
		"all, weighed by variances": {ByVariance: true},
	}
}

// Where the places are a similarity of the nominal ones, it is found, whatever is held.
func TestSimilarityIsFound(t *testing.T) {
	nominal := [][2]float64{{42, 0}, {10, 37}, {-40, 12}, {-13, -39}, {29, -31}}
	at := options()["centre held"].Centre
	for _, turn := range []float64{0, 1, -2.5, 3.1} {
		sin, cos := math.Sincos(turn)
		var xy [][2]float64
		for _, q := range nominal {
			xy = append(xy, [2]float64{at[0] + 1.01*(cos*q[0]-sin*q[1]), at[1] + 1.01*(sin*q[0]+cos*q[1])})
		}
		for name, opt := range options() {
			f, err := To(nominal, known(xy, [2][2]float64{{4e-4, 1e-4}, {1e-4, 1e-4}}), opt)
			require.NoError(t, err, name)
			assert.InDelta(t, 0, math.Remainder(f.Turn.Radians()-turn, 2*math.Pi), 1e-13, name)
			assert.InDelta(t, 1.01, f.Scale, 1e-13, name)
			assert.InDelta(t, 0, math.Hypot(f.Centre[0]-at[0], f.Centre[1]-at[1]), 1e-12, name)
			for i := range nominal {
				along, out := f.Polar(i)
				assert.InDelta(t, 0, along.Off*42+out.Off, 1e-11, name)
			}
		}
	}
}

// The gradient of what is fitted, by the measured places, is that of differences, also
// where they lie millimetres from the pattern.
func TestGradient(t *testing.T) {
	nominal := [][2]float64{{42, 0}, {10, 37}, {-40, 12}, {-13, -39}, {29, -31}}
	for name, opt := range options() {
		places := known([][2]float64{{43, 3}, {9, 40}, {-44, 12}, {-13, -35}, {33, -30}}, [2][2]float64{{4e-4, 1e-4}, {1e-4, 1e-4}})
		f, err := To(nominal, places, opt)
		require.NoError(t, err, name)
		values := func() [4]float64 {
			g, err := To(nominal, places, opt)
			require.NoError(t, err)
			return [4]float64{g.Centre[0], g.Centre[1], g.Turn.Radians(), g.Scale}
		}
		const h = 1e-4
		for i := range nominal {
			for x := range 2 {
				places.XY[i][x] += h
				up := values()
				places.XY[i][x] -= 2 * h
				down := values()
				places.XY[i][x] += h
				for p := range up {
					assert.InDelta(t, (up[p]-down[p])/(2*h), f.gain.At(p, 2*i+x), 2e-8, "%s: parameter %d by %d.%d", name, p, i, x)
				}
			}
		}
	}
}

// Of n equal places of a ring, the others predict one with s² (1 + 2/(n-1)) along the
// circle and across it: each of the four parameters takes the variance s² of one
// coordinate, which symmetry shares out evenly.
func TestPredictionOfTheOthers(t *testing.T) {
	for _, n := range []int{4, 6, 12} {
		places := known(regular(n, 50), [2][2]float64{{1, 0}, {0, 1}})
		var sum float64
		for i := range n {
			f, err := To(regular(n, 50), places, Options{Use: Without(n, i)})
			require.NoError(t, err)
			d := f.Off(i)
			sum += (d.Cov[0][0] + d.Cov[1][1]) / float64(2*n)
		}
		full, err := To(regular(n, 50), places, Options{})
		require.NoError(t, err)
		d := full.Off(0)
		assert.InDelta(t, 1-2/float64(n), (d.Cov[0][0]+d.Cov[1][1])/2, 1e-12, "a place's share in its own pattern")
		// The variance of what is left out is that of what is left in, inverted.
		assert.InDelta(t, 1/(1-2/float64(n)), sum, 1e-9)
	}
}

// Places that are open outward and share a fitted radius all move outward with its
// error. The stated variance of how far out they are, about their own centre or a held
// one, is their scatter. False-alarm rate: 1e-4 a row.
func TestPlacesShareARadius(t *testing.T) {
	const u, shared = 0.01, 0.6 // mm; 0.6²/(1+0.6²) is 0.26 of the outward variance
	for _, n := range []int{3, 6} {
		for name, opt := range map[string]Options{
			"own centre": {Scale: 1}, "held centre": {Scale: 1, Centre: &[2]float64{}},
		} {
			t.Run(fmt.Sprintf("%d places, %s", n, name), func(t *testing.T) {
				nominal := regular(n, 42)
				alone := known(nominal, [2][2]float64{{u * u, 0}, {0, u * u}})
				places := known(nominal, [2][2]float64{{u * u, 0}, {0, u * u}})
				for i := range 2 * n {
					for j := i; j < 2*n; j++ {
						both := nominal[i/2][i%2] / 42 * nominal[j/2][j%2] / 42 * u * u * shared * shared
						places.Cov.SetSym(i, j, places.Cov.At(i, j)+both)
						if i/2 == j/2 {
							alone.Cov.SetSym(i, j, alone.Cov.At(i, j)+both)
						}
					}
				}
				outward := func(p Places) (variance, square float64) {
					f, err := To(nominal, p, opt)
					require.NoError(t, err)
					for i := range nominal {
						_, out := f.Polar(i)
						variance += out.U * out.U
						square += out.Off * out.Off
					}
					return variance, square
				}
				stated, _ := outward(places)
				independent, _ := outward(alone)
				rng := rand.New(rand.NewPCG(61, uint64(n)))
				draws := trials.Of(1500, 200)
				got := 0.0
				for range draws {
					drawn := Places{XY: make([][2]float64, n), Cov: places.Cov}
					radius := shared * rng.NormFloat64()
					for i, q := range nominal {
						for x := range 2 {
							drawn.XY[i][x] = q[x] + u*(rng.NormFloat64()+q[x]/42*radius)
						}
					}
					_, square := outward(drawn)
					got += square / float64(draws)
				}
				low, high := trials.RMS(draws, 1e-4) // all places of a draw taken for one
				ratio := math.Sqrt(got / stated)
				assert.True(t, low < ratio && ratio < high, "%g is not from %g to %g", ratio, low, high)
				if n == 3 && opt.Centre == nil {
					// A shift takes a third of all variance that is not shared, and half of
					// what is outward alone.
					assert.InDelta(t, 3*u*u*(2./3+shared*shared), stated, 1e-12)
					assert.InDelta(t, 3*u*u*(2./3+shared*shared/2), independent, 1e-12)
				}
			})
		}
	}
}

func TestUndetermined(t *testing.T) {
	cov := [2][2]float64{{1, 0}, {0, 1}}
	square := regular(4, 10)
	for name, c := range map[string]struct {
		places Places
		opt    Options
	}{
		"one place":           {known(square, cov), Options{Use: []int{2}}},
		"no place":            {known(square, cov), Options{Use: []int{}}},
		"all at the centre":   {known(make([][2]float64, 4), cov), Options{}},
		"no variance":         {known(square, [2][2]float64{}), Options{ByVariance: true}},
		"not a number":        {known([][2]float64{{math.NaN(), 0}, {1, 1}, {2, 2}, {3, 3}}, cov), Options{}},
		"covariance of a row": {known(square, [2][2]float64{{1, 1}, {1, 1}}), Options{ByVariance: true}},
	} {
		_, err := To(square, c.places, c.opt)
		assert.ErrorIs(t, err, ErrUndetermined, name)
	}
}
