package fit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// Three bores of one drill, in three directions, two seen over 90 degrees only:
// stated against observed over 4,000 trials, see TestJointFaceReachesTheBound.
func TestEqualCylindersAgreeWithScatter(t *testing.T) {
	t.Parallel()
	trials, tol := 4000, 0.05
	if testing.Short() {
		trials, tol = 500, 0.15
	}
	const noise = 0.01
	axes := []r3.Vector{{Z: 1}, {X: 0.6, Z: 0.8}, {Y: 0.6, Z: -0.8}}
	arcs := []float64{6.28, 1.57, 1.57}
	var y [3]tally
	var alone, joint float64
	for i := range trials {
		rng := rand.New(rand.NewPCG(95, uint64(i)))
		var walls [][]r3.Vector
		var starts []fit.Cylinder
		for k, w := range axes {
			u, v := fit.Frame(w)
			at := r3.Vector{X: 50 * float64(k), Y: -20}
			var pts []r3.Vector
			for j := range 50 {
				s, c := math.Sincos(arcs[k] * float64(j) / 50)
				r := 4 + noise*rng.NormFloat64()
				pts = append(pts, at.Add(u.Mul(r*c)).Add(v.Mul(r*s)).Add(w.Mul(float64(j*7%11)-5)))
			}
			walls = append(walls, pts)
			starts = append(starts, fit.Cylinder{Point: at.Add(u.Mul(0.1)), Axis: w.Add(v.Mul(0.01)), Radius: 4.1})
		}
		f, err := fit.EqualCylinders(starts, walls, fit.Options{})
		require.NoError(t, err)
		for k, w := range axes {
			u, v := fit.Frame(w)
			at := r3.Vector{X: 50 * float64(k), Y: -20}
			var h float64
			for _, p := range walls[k] {
				h += p.Sub(at).Dot(w) / 50
			}
			d := f[k].Point.Sub(at.Add(w.Mul(h)))
			require.Equal(t, f[0].Radius, f[k].Radius)
			y[k].note(t, []float64{d.Dot(u), d.Dot(v), f[k].Axis.Dot(u), f[k].Axis.Dot(v), f[k].Radius - 4},
				func(i, j int) float64 { return f[k].Cov[i][j] })
			if k == 1 {
				joint += d.Norm2()
				one, err := fit.CylinderFrom(starts[k], walls[k], fit.Options{})
				require.NoError(t, err)
				alone += one.Point.Sub(at.Add(w.Mul(h))).Norm2()
			}
		}
	}
	for k := range y {
		y[k].check(t, 137, tol, "u", "v", "a", "b", "r")
	}
	t.Logf("a quarter-seen bore's axis: alone %.1f times the joint fit's error", math.Sqrt(alone/joint))
	assert.Greater(t, alone, 4*joint)
}

func TestEqualCylindersRefuse(t *testing.T) {
	_, err := fit.EqualCylinders(nil, nil, fit.Options{})
	require.Error(t, err)
	_, err = fit.EqualCylinders([]fit.Cylinder{{Axis: r3.Vector{Z: 1}, Radius: 1}}, [][]r3.Vector{{{X: 1}}}, fit.Options{})
	var few *fit.TooFewError
	require.ErrorAs(t, err, &few)
}
