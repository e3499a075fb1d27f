package pattern_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/bolt/pattern"
	"spotface/mesh/scansim/trials"
)

// learnedRing draws a ring of n holes whose errors' variance is known with few degrees of
// freedom ν: what is stated is its posterior mean, s² χ²/(ν-2), χ² with ν degrees of
// freedom. Hole 0 is off along the circle by so many true standard deviations.
func learnedRing(rng *rand.Rand, n int, dof, off float64) (nominal [][2]float64, p pattern.Places) {
	const sigma, radius = 0.01, 30.0
	chi := distuv.ChiSquared{K: dof, Src: rng}.Rand()
	p = pattern.Places{Cov: mat.NewSymDense(2*n, nil), DOF: dof}
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		at := [2]float64{radius * cos, radius * sin}
		nominal = append(nominal, at)
		if i == 0 {
			at[1] += off * sigma
		}
		p.XY = append(p.XY, [2]float64{at[0] + sigma*rng.NormFloat64(), at[1] + sigma*rng.NormFloat64()})
		for k := range 2 {
			p.Cov.SetSym(2*i+k, 2*i+k, sigma*sigma*chi/(dof-2))
		}
	}
	return nominal, p
}

// The largest of n holes' distances is no evidence by itself: of regular rings at most 5 %
// have a hole named, though their uncertainty comes from eight degrees of freedom, with
// which the normal distribution's bound names one in 8 %. A hole that is ten standard
// deviations off is named.
//
// 900 rings of each; false-alarm rate 1e-5 each.
func TestRegularRingsHaveNoHoleOff(t *testing.T) {
	rings := trials.Of(900, 300)
	for _, n := range []int{5, 6} {
		falsely, rightly := 0, 0
		for i := range rings {
			rng := rand.New(rand.NewPCG(uint64(i), uint64(n)))
			nominal, p := learnedRing(rng, n, 8, 0)
			o, ok := pattern.FindOutliers(nominal, p)
			require.True(t, ok)
			if len(o.Off) > 0 || o.Scatter {
				falsely++
			}
			nominal, p = learnedRing(rng, n, 8, 10)
			if o, _ = pattern.FindOutliers(nominal, p); len(o.Off) == 1 && o.Off[0] == 0 {
				rightly++
			}
		}
		t.Logf("%d holes: %d falsely, %d rightly of %d", n, falsely, rightly, rings)
		assert.LessOrEqual(t, falsely, trials.Most(rings, 0.05, trials.Rate))
		assert.GreaterOrEqual(t, rightly, trials.Least(rings, 0.98, trials.Rate))
	}
}

// With many degrees of freedom the bound is that of the normal distribution. With 10 it has
// Student's quantiles, 3.169 at 0.995 and 4.144 at 0.999, over their standard deviation
// (NIST/SEMATECH, e-Handbook of Statistical Methods, 1.3.6.7.2).
func TestStandsOut(t *testing.T) {
	assert.InDelta(t, 4.144*math.Sqrt(0.8), pattern.StandsOut(5, 0.02, 10), 5e-4)
	assert.InDelta(t, 3.169*math.Sqrt(0.8), pattern.StandsOut(5, 0.1, 10), 5e-4)
	for _, dof := range []float64{9.99e3, 1e4, 1e9} {
		assert.InDelta(t, pattern.StandsOut(6, 0.05, 0), pattern.StandsOut(6, 0.05, dof), 2e-3)
	}
}
