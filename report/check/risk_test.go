package check

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/mesh/scansim/trials"
	"spotface/report"
	"spotface/report/internal/testpart"
)

// A bore exactly at its upper limit, seen through everything that the plan states:
// its coat, its heat, the scanner's own error and the scan's noise are drawn from
// the stated distributions, the scanned diameter follows, and the check that knows
// none of the draws may accept it, and reject it, in at most 2.5 % of trials each.
// False-alarm rate: 1e-4 for each of both.
//
// Where a length by hand sets the scale, its standard uncertainty is that of six
// readings, so another in each trial, with 5 degrees of freedom.
func TestRisksOfTheWholeCheck(t *testing.T) {
	n := trials.Of(200, 100)
	most := trials.Most(n, 0.025, 1e-4)
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
			// The diameter alone is judged: nothing else is asked of the plan.
			text, _, _ := strings.Cut(fmt.Sprintf(everySource, references), "    hole_diameter:")
			p := parse(t, text+"cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.2, 0.2]}}]\n")
			part := testpart.Kettle()
			part.Angles = []float64{0, 60, 120, 180, 240, 300}
			rep := reportOf(t, part)
			bore := &rep.Cylinders[0]
			bore.Uncertainty.Diameter = report.Coverage * row.noise
			pitchU := rep.BoltCircles[0].Uncertainty.PitchDiameter / report.Coverage
			middle := rep.BoltCircles[0].Centre.R3()
			var holes []r3.Vector
			for i := range rep.Holes {
				holes = append(holes, rep.Holes[i].Centre.R3())
			}
			const trueBore, truePitch = 40.2, 84.0
			const a, b, hand = 0.003, 0.0001, 0.03
			accept, reject := 0, 0
			for range n {
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
						rep.Holes[i].Centre = vec(at)
					}
				}
				bore.Diameter = scan(trueBore, 2) + row.noise*rng.NormFloat64()
				if row.hand {
					l := &p.Scanner.ReferenceLengths[0]
					l.Value = truePitch + hand*rng.NormFloat64()
					l.StandardU.U = hand * math.Sqrt(chi2.Rand()/5)
				}
				rep := judgedBy(t, rep, p)
				switch find(t, rep, "C1", report.Diameter).Verdict {
				case report.Conforming:
					accept++
				case report.Nonconforming:
					reject++
				}
			}
			t.Logf("accepted %d, rejected %d of %d", accept, reject, n)
			assert.LessOrEqual(t, accept, most)
			assert.LessOrEqual(t, reject, most)
			assert.Greater(t, accept+reject, n/200, "an uncertainty without end would never decide")
		})
	}
}

// True position, of holes whose centres, and of a bore whose place, err by what is
// stated. The first hole lies outward by so much that its position is at its limit;
// it may be accepted, and rejected, in at most 2.5 % of trials each. The stated
// uncertainty holds the true position of each of the six holes in 95 % or more; those
// of one trial are taken for alike, as the safe side. False-alarm rate: 1e-4 a check.
//
// Where there is no bore the pattern lies where it fits the holes best: of six, one that
// lies b outward takes it along by b/6, the mean of all (least squares), so that it is
// 5b/6 off, and every other b/6.
func TestRisksOfPosition(t *testing.T) {
	n := trials.Of(100, 30)
	most, least := trials.Most(n, 0.025, 1e-4), 6*trials.Least(n, 0.95, 1e-4)
	for _, row := range []struct {
		name string
		bore float64
		off  float64 // of the first hole, in standard uncertainties of a centre
	}{
		{"bore, much less than the uncertainty", 40, 0.3},
		{"bore, more than it", 40, 4},
		{"no bore, much less than the uncertainty", 0, 0.3},
		{"no bore, more than it", 0, 4},
	} {
		t.Run(row.name, func(t *testing.T) {
			part := testpart.Kettle()
			part.Angles = []float64{0, 60, 120, 180, 240, 300}
			part.BoreD, part.U = row.bore, 0.01
			off := row.off * part.U
			part.Radial = []float64{off, 0, 0, 0, 0, 0}
			truth := []float64{2 * off, 0, 0, 0, 0, 0}
			datum := 0.0
			if row.bore == 0 {
				truth = []float64{5. / 3 * off, off / 3, off / 3, off / 3, off / 3, off / 3}
			}
			rep := reportOf(t, part)
			p := parse(t, fmt.Sprintf(
				"bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 84}, position: {diameter: %g}}]", truth[0]))
			frame := *rep.Frame
			ex, ey, _ := part.Axes()
			if row.bore > 0 {
				rep.Cylinders[0].Uncertainty.AxisDeg = 0
				datum = 0.007
				rep.Cylinders[0].Uncertainty.Point = report.CoverageCentre * datum
			}
			var holes []r3.Vector
			for i := range rep.Holes {
				holes = append(holes, rep.Holes[i].Centre.R3())
			}
			rng := rand.New(rand.NewPCG(33, uint64(10*row.off)))
			err := func(u float64) r3.Vector {
				return ex.Mul(u * rng.NormFloat64()).Add(ey.Mul(u * rng.NormFloat64()))
			}
			accept, reject, cover := 0, 0, 0
			for range n {
				for i := range rep.Holes {
					at := holes[i].Add(err(part.U))
					rep.Holes[i].Centre = vec(at)
				}
				if datum > 0 {
					f := frame
					f.Origin = vec(f.Origin.R3().Add(err(datum)))
					rep.Frame, rep.Cylinders[0].Point = &f, f.Origin
				}
				rep := judgedBy(t, rep, p)
				for i := range 6 {
					r := find(t, rep, fmt.Sprintf("B1/H%d", i+1), report.Position)
					if math.Abs(*r.Measured-truth[i]) <= r.Uncertainty {
						cover++
					}
					assert.Greater(t, *r.Probability, 0.0)
					if i > 0 {
						continue
					}
					switch r.Verdict {
					case report.Conforming:
						accept++
					case report.Nonconforming:
						reject++
					}
				}
			}
			t.Logf("accepted %d, rejected %d of %d; %d of %d hold", accept, reject, n, cover, 6*n)
			assert.LessOrEqual(t, accept, most)
			assert.LessOrEqual(t, reject, most)
			assert.GreaterOrEqual(t, cover, least)
		})
	}
}
