package budget

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
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

// The same beside a part that is known well, such as the scanner's length error, in
// 20,000 trials a row: with the inflated deviation and k = 2 to either side at most
// 2.5 % lie beyond, 500, standard deviation 22, bound 3.5 of them above, 2e-4. By
// Welch and Satterthwaite, from s and ν, it is 2.1 to 2.5 % with lengths from 8 %
// shorter to 7 % longer: no gain, so it is settled for the simpler. Both at once, the
// inflated deviation with degrees of freedom, is longer by up to two fifths.
func TestScanPartWithoutDegreesOfFreedom(t *testing.T) {
	trials, most := 20000, 577
	if testing.Short() { // 125 and 11: 3.5 of them
		trials, most = 5000, 164
	}
	for _, dof := range []float64{4.5, 6, 12, 30} {
		for _, known := range []float64{0, 0.5, 1, 2} { // standard uncertainty of the other part, in those of the scan's
			t.Run(fmt.Sprintf("%g degrees of freedom, other part %g", dof, known), func(t *testing.T) {
				rng := rand.New(rand.NewPCG(51, uint64(10*known+100*dof)))
				chi2 := distuv.ChiSquared{K: dof, Src: rng}
				var plain, formula struct {
					above, below int
					length       float64
				}
				both := 0.0
				for range trials {
					s := math.Sqrt(chi2.Rand() / dof) // as the scan tells it
					err := rng.NormFloat64() + known*rng.NormFloat64()
					combine := func(s, dof float64) float64 {
						return Budget{Sources: []Source{
							{Standard: Standard{U: s, DoF: dof}, Sensitivity: 1},
							{Standard: Standard{U: known}, Sensitivity: 1},
						}}.Combined().Expanded()
					}
					inflated := s * math.Sqrt(dof/(dof-2))
					u, w := combine(inflated, 0), combine(s, dof)
					both += combine(inflated, dof)
					plain.length, formula.length = plain.length+u, formula.length+w
					if err > u {
						plain.above++
					} else if err < -u {
						plain.below++
					}
					if err > w {
						formula.above++
					} else if err < -w {
						formula.below++
					}
				}
				n := float64(trials)
				t.Logf("k = 2: %.2f %% and %.2f %% beyond; Welch-Satterthwaite: %.2f and %.2f, length %.3f of the other; both at once %.3f",
					100*float64(plain.above)/n, 100*float64(plain.below)/n, 100*float64(formula.above)/n, 100*float64(formula.below)/n,
					formula.length/plain.length, both/plain.length)
				assert.LessOrEqual(t, plain.above, most)
				assert.LessOrEqual(t, plain.below, most)
			})
		}
	}
}
