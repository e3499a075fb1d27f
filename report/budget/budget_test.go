package budget

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"spotface/mesh/scansim/trials"
)

// JCGM 100:2008, table 1 and figure 2: a half-width's standard uncertainty is the
// standard deviation of its distribution, here by drawing from it. 200,000 draws:
// the standard deviation of a sample's is below 0.16 % for each (fourth moments
// of at most 3 u⁴), the bound 4 of them, false alarm 2e-4 for the three.
func TestHalfWidths(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 11))
	for d, draw := range map[Distribution]func() float64{
		Rectangular: func() float64 { return 2*rng.Float64() - 1 },
		Triangular:  func() float64 { return rng.Float64() + rng.Float64() - 1 },
		Arcsine:     func() float64 { return math.Sin(2 * math.Pi * rng.Float64()) },
	} {
		s, err := FromHalfWidth(3, d)
		require.NoError(t, err)
		sum := 0.0
		const n = 200000
		for range n {
			v := 3 * draw()
			sum += v * v
		}
		assert.InEpsilon(t, math.Sqrt(sum/n), s.U, 0.0064, d)
		assert.Equal(t, d, s.Distribution)
	}
	_, err := FromHalfWidth(1, Normal)
	assert.ErrorContains(t, err, "no half-width")
}

func TestStatedUncertainties(t *testing.T) {
	assert.Equal(t, 0.02, FromExpanded(0.04, 2).U)
	// JCGM 100:2008, 4.3.4: divide by 1.64, 1.96, 2.58 for 90, 95, 99 %.
	for p, k := range map[float64]float64{0.90: 1.64, 0.95: 1.96, 0.99: 2.58} {
		assert.InDelta(t, 1/k, FromConfidence(1, p, 0).U, 0.003/k)
	}
	// With few degrees of freedom table G.2 serves: 2.26 for 95 % and 9.
	assert.InDelta(t, 1/2.26, FromConfidence(1, 0.95, 9).U, 0.003)
}

// ±U of a mean of four readings about a normal truth holds 95.45 %, for the k that
// three degrees of freedom ask; with k = 2 it would hold 86 %. False-alarm rate:
// 1e-5 for each of the three checks.
func TestExpandedUncertaintyHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 12))
	const n = 2000
	in, plain := 0, 0
	for range n {
		var r [4]float64
		for i := range r {
			r[i] = rng.NormFloat64()
		}
		// JCGM 100:2008, 4.2.3.
		mean, sd := stat.MeanStdDev(r[:], nil)
		u := Standard{U: sd / 2, DoF: 3}
		if math.Abs(mean) <= u.Expanded() {
			in++
		}
		if math.Abs(mean) <= K*u.U {
			plain++
		}
	}
	assert.GreaterOrEqual(t, in, trials.Least(n, Confidence, trials.Rate))
	assert.LessOrEqual(t, in, trials.Most(n, Confidence, trials.Rate))
	assert.LessOrEqual(t, plain, trials.Most(n, 0.861, trials.Rate))
}

// Welch-Satterthwaite (G.2b) by hand: two equal parts of 4 and of many.
func TestEffectiveDegreesOfFreedom(t *testing.T) {
	got := Combined([]Source{
		{Standard: Standard{U: 1, DoF: 4}, Sensitivity: 3},
		{Standard: Standard{U: 3}, Sensitivity: -1},
		{Standard: Standard{U: 5, DoF: 1}}, // nothing hangs on it
	})
	assert.InDelta(t, math.Sqrt(18), got.U, 1e-12)
	assert.InDelta(t, 16, got.DoF, 1e-12)
	assert.InDelta(t, 2.17, got.CoverageFactor(), 0.005) // table G.2, 16 and 95.45 %
	assert.Equal(t, K, Standard{U: 1}.CoverageFactor())
	assert.Equal(t, K, Standard{U: 1, DoF: math.Inf(1)}.CoverageFactor())
	assert.InDelta(t, 13.97, Standard{U: 1, DoF: 1.9}.CoverageFactor(), 0.005)
}

func TestBelow(t *testing.T) {
	// Median and symmetry, and the tail of table G.2: 2.78 for 4 and 95 %.
	s := Standard{U: 0.5, DoF: 4}
	assert.Equal(t, 0.5, s.Below(0))
	assert.InDelta(t, 0.975, s.Below(2.78*0.5), 2e-4)
	assert.InDelta(t, 0.975, Standard{U: 0.5}.Below(1.96*0.5), 1e-5)
}
