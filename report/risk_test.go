package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// A bore exactly at its upper limit, seen through everything that the plan states:
// its coat, its heat, the scanner's own error and the scan's noise are drawn from
// the stated distributions, the scanned diameter follows, and the check that knows
// none of the draws may accept it, and reject it, in at most 2.5 % of 4,000 trials
// each. Standard deviation 9.9; 133 is 3.3 of them above 100, 5e-4.
//
// Where a length by hand sets the scale, its standard uncertainty is that of six
// readings, so another in each trial, with 5 degrees of freedom.
func TestRisksOfTheWholeCheck(t *testing.T) {
	trials, most := 4000, 133
	if testing.Short() { // 25 and 4.9: 3.3 of them
		trials, most = 1000, 41
	}
	for _, row := range []struct {
		name  string
		hand  bool
		noise float64 // standard uncertainty of the scanned diameter
	}{
		{"noise rules", false, 0.02},
		{"the plan's sources rule", false, 0.004},
		{"a length by hand sets the scale", true, 0.004},
	} {
		t.Run(row.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(31, uint64(len(row.name))))
			chi2 := distuv.ChiSquared{K: 5, Src: rng}
			references := ""
			if row.hand {
				references = "  reference_lengths: [{pitch_diameter: B1, value: 84, u: 0.03, dof: 5, set_scale: true}]"
			}
			plan := parse(t, fmt.Sprintf(everySource, references))
			part := kettlePort()
			part.angles = []float64{0, 60, 120, 180, 240, 300}
			rep := part.report(t)
			bore := &rep.Cylinders[0]
			bore.Uncertainty.Diameter = coverage * row.noise
			pitchU := rep.BoltCircles[0].Uncertainty.PitchDiameter / coverage
			middle := rep.BoltCircles[0].Centre.R3()
			var holes []r3.Vector
			for i := range rep.Holes {
				holes = append(holes, rep.Holes[i].Centre.R3())
			}
			const trueBore, truePitch = 40.2, 84.0
			const a, b, hand = 0.003, 0.0001, 0.03
			accept, reject := 0, 0
			for range trials {
				coat := 0.01 + 0.006*(2*rng.Float64()-1)
				heat := 11 + 2*math.Cos(2*math.Pi*rng.Float64())
				grown := 1 + (23e-6+1.5e-6*rng.NormFloat64())*heat
				// a + b L is one standard uncertainty, of which b L is common.
				scale := rng.NormFloat64()
				own := func() float64 { return rng.NormFloat64() }
				if !row.hand {
					own = func() float64 { return scale }
				}
				scan := func(true, coats float64) float64 {
					return true*grown*(1+b*scale) - coats*coat + a*own()
				}
				if row.hand { // a ring of that pitch, by its holes
					stretch := (scan(truePitch, 0) + pitchU*rng.NormFloat64()) / truePitch
					for i := range rep.Holes {
						at := middle.Add(holes[i].Sub(middle).Mul(stretch))
						rep.Holes[i].Centre, rep.Holes[i].measured.Centre = vec(at), at
					}
				}
				bore.Diameter = scan(trueBore, 2) + row.noise*rng.NormFloat64()
				if row.hand {
					l := &plan.Scanner.ReferenceLengths[0]
					l.Value = truePitch + hand*rng.NormFloat64()
					l.Spread.U = hand * math.Sqrt(chi2.Rand()/5)
				}
				require.NoError(t, Check(plan, rep))
				switch find(t, rep, "C1", Diameter).Verdict {
				case Conforming:
					accept++
				case Nonconforming:
					reject++
				}
			}
			t.Logf("accepted %d, rejected %d of %d", accept, reject, trials)
			assert.LessOrEqual(t, accept, most)
			assert.LessOrEqual(t, reject, most)
			assert.Greater(t, accept+reject, trials/200, "an uncertainty without end would never decide")
		})
	}
}
