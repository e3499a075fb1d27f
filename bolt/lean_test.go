package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/fit/noise"
)

// How an axis leans in noise that is known, by cells, against the covariance of least
// squares through every point: to what cells of 7.5 degrees by a row leave out.
func TestLean(t *testing.T) {
	for name, c := range map[string]struct {
		arc    s1.Angle
		kernel noiseKernel
	}{
		"exponential, 360": {2 * math.Pi, noiseKernel{Length: coverRadius / 4}},
		"exponential, 224": {224 * s1.Degree, noiseKernel{Length: coverRadius / 4}},
		"long, 360":        {2 * math.Pi, noiseKernel{Length: coverRadius}},
	} {
		t.Run(name, func(t *testing.T) {
			spec := wallSpec{Radius: coverRadius, Around: 96, Arc: c.arc, Sigma: coverSigma, Kernel: c.kernel, Rows: 13, Depth: 1.5 * coverDepth}
			w, err := newNoisyWall(spec)
			require.NoError(t, err)
			pts := w.Draw(rand.New(rand.NewPCG(3, 3)))
			n := len(pts)
			x, v := mat.NewDense(n, 5, nil), mat.NewSymDense(n, nil)
			var mid float64
			for _, p := range pts {
				mid += p.Z / float64(n)
			}
			for i, p := range pts {
				l := math.Hypot(p.X, p.Y)
				x.SetRow(i, []float64{p.X / l, p.Y / l, 1, (p.Z - mid) * p.X / l, (p.Z - mid) * p.Y / l})
				for j := range i + 1 {
					v.SetSym(i, j, coverSigma*coverSigma*c.kernel.At(p.Distance(pts[j])))
				}
			}
			want := ofLeastSquares(t, x, v)

			h := wallCandidate(t, w, rand.New(rand.NewPCG(3, 4)))
			cells, terms := h.series.tilted()
			f, ok := roughNoise(c.kernel.Length).Fit(&cells, terms)
			require.True(t, ok)
			for p := range 2 {
				assert.InEpsilon(t, math.Sqrt(want.At(3+p, 3+p)), math.Sqrt(f.Cov.At(3+p, 3+p)), 0.06)
			}
		})
	}
	// A rim has no axis that could lean.
	c := arcCandidates(t, rand.New(rand.NewPCG(3, 5)), coverSigma, []float64{coverRadius}, 360)[0]
	assert.Zero(t, c.own.lean)
}

// roughNoise is noise of the covariance exp(-d/L), whose normal kernels have the lengths
// L|Z| with Z a standard normal variable.
func roughNoise(length float64) *noise.Model {
	const n = 40
	m := &noise.Model{Nugget: 1e-6 * coverSigma * coverSigma}
	for k := range n {
		m.Length = append(m.Length, length*distuv.UnitNormal.Quantile(0.5+(float64(k)+0.5)/(2*n)))
		m.Variance = append(m.Variance, coverSigma*coverSigma/n)
	}
	return m
}

// wallCandidate draws a wall as the program first finds it.
func wallCandidate(t testing.TB, w *noisyWall, rng *rand.Rand) *candidate {
	var xy [][2]float64
	var height []float64
	for _, q := range w.Draw(rng) {
		xy, height = append(xy, [2]float64{q.X, q.Y}), append(height, q.Z)
	}
	return firstFound(t, xy, height)
}
