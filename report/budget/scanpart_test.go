package budget

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/mesh/scansim/trials"
)

// A scan's noise is known from ν degrees of freedom, so its part of a result has
// Student's distribution. What goes into a budget is the standard deviation of that,
// s √(ν/(ν - 2)), without degrees of freedom. Is k = 2 then enough? To either side at
// most 2.5 % of Student's t lies beyond it, for ν = 4 and more:
func TestInflatedDeviationNeedsNoDegreesOfFreedom(t *testing.T) {
	for dof := 4.0; dof < 1000; dof *= 1.02 {
		beyond := 1 - distuv.StudentsT{Sigma: 1, Nu: dof}.CDF(K*math.Sqrt(dof/(dof-2)))
		assert.LessOrEqual(t, beyond, 0.02502, dof)
		assert.GreaterOrEqual(t, beyond, 0.0227, dof)
	}
}

// The same beside a part that is known well, such as the scanner's length error: with
// the inflated deviation and k = 2 at most 2.5 % lie beyond it to either side. Without
// the inflation 3.5 to 5.5 % do at 4.5 degrees of freedom. False-alarm rate: 1e-5 for
// each of the twelve checks. What other budgets would give: scanpart_study_test.go.
func TestScanPartWithoutDegreesOfFreedom(t *testing.T) {
	const n = 8000
	most := trials.Most(n, 0.025, trials.Rate)
	for _, dof := range []float64{4.5, 12} {
		for _, known := range []float64{0, 0.5, 1} {
			t.Run(fmt.Sprintf("%g degrees of freedom, other part %g", dof, known), func(t *testing.T) {
				c := scanPart(n, dof, known, func(s float64) float64 {
					return scanBudget(s*math.Sqrt(dof/(dof-2)), 0, known)
				})
				assert.LessOrEqual(t, c.above, most)
				assert.LessOrEqual(t, c.below, most)
			})
		}
	}
}

// beyond counts errors beyond the expanded uncertainty, and adds up its length.
type beyond struct {
	above, below int
	length       float64
}

// scanPart draws n errors of a result made of a scan's part, whose standard deviation
// of 1 is known from dof degrees of freedom, and of another of standard uncertainty
// known; expanded is stated from what the scan tells of its own deviation.
func scanPart(n int, dof, known float64, expanded func(s float64) float64) (c beyond) {
	rng := rand.New(rand.NewPCG(51, uint64(10*known+100*dof)))
	chi2 := distuv.ChiSquared{K: dof, Src: rng}
	for range n {
		u := expanded(math.Sqrt(chi2.Rand() / dof))
		err := rng.NormFloat64() + known*rng.NormFloat64()
		c.length += u
		if err > u {
			c.above++
		} else if err < -u {
			c.below++
		}
	}
	return c
}

// scanBudget is the expanded uncertainty of both parts together.
func scanBudget(s, dof, known float64) float64 {
	return Combined([]Source{
		{Standard: Standard{U: s, DoF: dof}, Sensitivity: 1},
		{Standard: Standard{U: known}, Sensitivity: 1},
	}).Expanded()
}
