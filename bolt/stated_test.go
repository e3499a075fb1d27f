package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim/trials"
)

// drawDiscs simulates holes of one part: points of rims or walls about the
// origin with noise of the kernel, fitted and binned as the program does.
func drawDiscs(t *testing.T, rng *rand.Rand, w *noisyWall, holes int, depth float64) []arcSeries {
	t.Helper()
	var out []arcSeries
	for range holes {
		var xy [][2]float64
		for _, p := range w.Draw(rng) {
			xy = append(xy, [2]float64{p.X, p.Y})
		}
		d, err := robustDisc(xy, nil, 1e-6)
		require.NoError(t, err)
		s := newArcSeries(xy, d)
		s.depth = depth
		out = append(out, s)
		for i := range s.theta {
			// Residuals from the true circle instead: r sin, cos about it.
			sin, cos := math.Sincos(s.theta[i])
			s.y[i] += (d.r - 4) + d.x*cos + d.y*sin
		}
	}
	return out
}

// Six rims of one part, radius 4, 200 points each, noise correlated along the
// rim over a length that the program does not know: the intervals of two standard
// uncertainties (k = 2, GUM) cover the truth.
//
// Noise is learned once a part, so that the 12 intervals of a part count as three
// independent ones. At a coverage of 95 % the false-alarm rate is 1e-5. The white-noise
// formula reaches 39 % at r/4 (exponential).
func TestStatedUncertaintyCovers(t *testing.T) {
	const radius, holes = 4, 6
	parts := trials.Of(10, 2)
	least := float64(trials.Least(3*parts, 0.95, trials.Rate)) / float64(3*parts)
	for name, c := range map[string]struct {
		kernel noiseKernel
		arc    s1.Angle
	}{
		"white":                 {kernel: noiseKernel{}},
		"exponential, r/4":      {kernel: noiseKernel{Length: radius / 4.0}},
		"normal, r/2":           {kernel: noiseKernel{Smooth: true, Length: radius / 2.0}},
		"exponential, r/8, 224": {kernel: noiseKernel{Length: radius / 8.0}, arc: 224 * s1.Degree},
	} {
		t.Run(name, func(t *testing.T) {
			w, err := newNoisyWall(wallSpec{Radius: radius, Around: 200, Arc: c.arc, Sigma: 0.03, Kernel: c.kernel})
			require.NoError(t, err)
			rng := rand.New(rand.NewPCG(17, 4))
			in, all := 0, 0
			var z2 float64
			for range parts {
				series := drawDiscs(t, rng, w, holes, 0)
				noise, err := learnNoise(t.Context(), radius, series, faceNoise{}, 1)
				require.NoError(t, err)
				for _, s := range series {
					p := s.patch()
					e, ok := noise.Fit(&p, p.Terms)
					require.True(t, ok)
					for k := range 2 {
						z := e.Beta[k] / math.Sqrt(e.Cov.At(k, k))
						all++
						z2 += z * z
						if math.Abs(z) <= 2 {
							in++
						}
					}
				}
			}
			t.Logf("%.1f %% of %d intervals, rms of error over u %.2f", 100*float64(in)/float64(all), all, math.Sqrt(z2/float64(all)))
			assert.GreaterOrEqual(t, float64(in)/float64(all), least)
		})
	}
}
