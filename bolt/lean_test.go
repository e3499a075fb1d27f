package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/scansim"
)

// How an axis leans in noise that is known, by cells, against the covariance of least
// squares through every point: to what cells of 7.5 degrees by a row leave out.
func TestLean(t *testing.T) {
	for name, c := range map[string]struct {
		arc    s1.Angle
		kernel scansim.Kernel
	}{
		"exponential, 360": {2 * math.Pi, scansim.Kernel{Length: coverRadius / 4}},
		"exponential, 224": {224 * s1.Degree, scansim.Kernel{Length: coverRadius / 4}},
		"long, 360":        {2 * math.Pi, scansim.Kernel{Length: coverRadius}},
	} {
		t.Run(name, func(t *testing.T) {
			spec := scansim.WallSpec{Radius: coverRadius, Around: 96, Arc: c.arc, Sigma: coverSigma, Kernel: c.kernel, Rows: 13, Depth: 1.5 * coverDepth}
			w, err := scansim.NewWall(spec)
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

			const white = 1e-6
			g := arcNoise{kernel: []kernel{{length: c.kernel.Length}}, shape: []int{0}, q: []float64{1 / white},
				sigma2: []float64{white * coverSigma * coverSigma}, weight: []float64{1}, free: 100}
			r, ok := g.refine(wallCandidate(t, w, true, rand.New(rand.NewPCG(3, 4))).series)
			require.True(t, ok)
			for p := range 2 {
				assert.InEpsilon(t, math.Sqrt(want.At(3+p, 3+p)), math.Sqrt(r.lean[p][p]), 0.06)
			}
		})
	}
	// A rim has no axis that could lean.
	w, err := scansim.NewWall(scansim.WallSpec{Radius: coverRadius, Around: 200, Arc: 2 * math.Pi, Sigma: coverSigma})
	require.NoError(t, err)
	c := wallCandidate(t, w, false, rand.New(rand.NewPCG(3, 5)))
	require.NoError(t, weighAlike(t.Context(), []*candidate{c}, waves{}, 1))
	assert.Zero(t, c.own.lean)
}
