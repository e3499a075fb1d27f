package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/bolt/hole"
	"spotface/mesh/scansim/trials"
)

// Slots and rectangles of one part whose noise is shared along the outline: the intervals of
// two standard uncertainties (k = 2, GUM) cover the true place, turn, length and width. Noise is
// learned once a part, so that the 20 numbers of a part count as three independent ones. At a
// coverage of 95 % the false-alarm rate is 1e-5. By how parts of one outline disagree, intervals
// cover 71 and 80 %.
func TestStatedUncertaintyOfOutlinesCovers(t *testing.T) {
	const openings, sigma = 4, 0.03
	parts := trials.Of(10, 3)
	least := float64(trials.Least(3*parts, 0.95, trials.Rate)) / float64(3*parts)
	kernel := noiseKernel{Length: 2}
	for k, o := range map[hole.Kind]hole.Outline{
		hole.Slot:      {A: 9, B: 3, C: 3, Angle: 0.4},
		hole.Rectangle: {A: 8, B: 5, C: 2, Angle: 0.4},
	} {
		t.Run(string(k), func(t *testing.T) {
			var at, out [][2]float64 // and outwards
			for turn := 0.0; turn < 2*math.Pi; turn += 2 * math.Pi / 160 {
				p, _ := o.Terms(k, turn)
				q := o
				q.A, q.B, q.C = o.A+1, o.B+1, o.C+1
				n, _ := q.Terms(k, turn)
				at = append(at, p)
				l := math.Hypot(n[0]-p[0], n[1]-p[1])
				out = append(out, [2]float64{(n[0] - p[0]) / l, (n[1] - p[1]) / l})
			}
			cov := mat.NewSymDense(len(at), nil)
			for i, p := range at {
				for j, q := range at[:i+1] {
					cov.SetSym(i, j, sigma*sigma*kernel.At(math.Hypot(p[0]-q[0], p[1]-q[1])))
				}
			}
			var root mat.Cholesky
			require.True(t, root.Factorize(cov))
			var l mat.TriDense
			root.LTo(&l)
			rng := rand.New(rand.NewPCG(17, 4))
			in, all := 0, 0
			for range parts {
				var cs []*candidate
				for range openings {
					z := mat.NewVecDense(len(at), nil)
					for i := range at {
						z.SetVec(i, rng.NormFloat64())
					}
					z.MulVec(&l, z)
					var pts [][2]float64
					for i, p := range at {
						e := z.AtVec(i)
						pts = append(pts, [2]float64{p[0] + e*out[i][0], p[1] + e*out[i][1]})
					}
					fitted, scale, ok := o.Fit(k, pts, 0.3, 1e-6, hole.Settled*o.B)
					require.True(t, ok)
					cs = append(cs, &candidate{scale: scale, long: &opening{Opening: hole.Opening{Outline: o, Kind: k}},
						series: newSeries(pts, k, disc{Outline: fitted, scale: scale})})
				}
				require.NoError(t, weighAlike(t.Context(), cs, faceNoise{}, 1))
				for _, c := range cs {
					require.True(t, c.long.known)
					f := c.long.Outline
					for i, off := range []float64{f.X, f.Y, f.Angle - o.Angle, f.A - o.A, f.B - o.B} {
						v := c.long.cov.At(i, i)
						if i < 2 { // along axes of its own
							v = (c.long.cov.At(0, 0) + c.long.cov.At(1, 1)) / 2
						}
						all++
						if math.Abs(off) <= 2*math.Sqrt(v) {
							in++
						}
					}
				}
			}
			t.Logf("%.1f %% of %d intervals", 100*float64(in)/float64(all), all)
			assert.GreaterOrEqual(t, float64(in)/float64(all), least)
		})
	}
}
