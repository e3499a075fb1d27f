package sizes

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"spotface/mesh/scansim/trials"
)

// draw takes a number from a distribution.
type draw func(*rand.Rand) float64

// population is a way of choosing and making sizes that is not the prior's: each table row
// and each size of a list alike often, deviations of the making of another form.
type population struct {
	name string
	kind Kind
	draw draw // the size meant, mm; negative: an odd one
	made draw // how far it is made from that, mm
}

func uniform(lo, hi float64) draw {
	return func(rng *rand.Rand) float64 { return lo + (hi-lo)*rng.Float64() }
}

func normal(mean, sd float64) draw {
	return func(rng *rand.Rand) float64 { return mean + sd*rng.NormFloat64() }
}

// oneOf draws from lists of sizes with the given shares, and else, odd, alike in every
// proportion between lo and hi.
func oneOf(lo, hi float64, shares []float64, lists ...draw) draw {
	return func(rng *rand.Rand) float64 {
		x := rng.Float64()
		for i, s := range shares {
			if x < s {
				return lists[i](rng)
			}
			x -= s
		}
		return -logUniform(rng, lo, hi)
	}
}

// multiple of a step, from, to.
func multiple(step float64, from, to int) draw {
	return func(rng *rand.Rand) float64 { return step * float64(from+rng.IntN(to-from+1)) }
}

// populations of holes for M3 to M16 or #4 to 1/2 in, and of longer lengths.
func populations() []population {
	clear := func(rng *rand.Rand) float64 { return metric[3+rng.IntN(11)].clear[rng.IntN(3)] }
	inches := func(rng *rand.Rand) float64 { return inch[4+rng.IntN(10)].clear[rng.IntN(3)] * inchMM }
	tapped := func(rng *rand.Rand) float64 { return metric[3+rng.IntN(11)].drill }
	holes := func(shares ...float64) draw {
		return oneOf(3, 30, shares, clear, inches, tapped,
			multiple(1, 3, 30), multiple(0.5, 6, 60), multiple(inchMM/16, 2, 19))
	}
	long := func(shares ...float64) draw {
		return oneOf(30, 230, shares, multiple(1, 30, 230), multiple(5, 6, 45),
			multiple(0.5, 60, 460), multiple(inchMM/8, 8, 72))
	}
	alike := holes(0.15, 0.15, 0.15, 0.2, 0.1, 0.1)
	return []population{
		{"holes, all series alike often, within 0.05", Hole, alike, uniform(-0.05, 0.05)},
		{"the same, exact", Hole, alike, uniform(0, 0)},
		{"the same, drilled 0 to 0.1 large", Hole, alike, uniform(0, 0.1)},
		{"holes, half of them odd, within 0.03", Hole,
			holes(0.1, 0.1, 0.1, 0.1, 0.05, 0.05), uniform(-0.03, 0.03)},
		{"holes, all metric, within 0.03", Hole, holes(0.4, 0, 0.2, 0.3, 0.05, 0), uniform(-0.03, 0.03)},
		{"holes printed 0.1 small, +-0.05", Hole, holes(0.4, 0, 0.1, 0.2, 0.1, 0), normal(-0.1, 0.05)},
		{"pitch diameters, +-0.05", PitchDiameter, long(0.3, 0.2, 0.1, 0.2), normal(0, 0.05)},
		{"pitch diameters, half odd, within 0.1", PitchDiameter,
			long(0.2, 0.1, 0.1, 0.1), uniform(-0.1, 0.1)},
		{"bores, -0.02 to 0.03", Bore, long(0.3, 0.2, 0.1, 0.2), uniform(-0.02, 0.03)},
	}
}

// bins of stated probability.
var bins = [...]float64{0.5, 0.6, 0.7, 0.8, 0.9, 1}

// curve sums up n statements of the most probable size: how many, their summed probability
// and how many are right, by bin; those below 0.4 are not made.
func (p population) curve(n int, seed uint64) (count, stated, right [len(bins)]float64) {
	rng := rand.New(rand.NewPCG(seed, 3))
	for range n {
		d := p.draw(rng)
		u := logUniform(rng, 0.003, 0.05)
		b := Best(Candidates(p.kind, math.Abs(d)+p.made(rng)+u*rng.NormFloat64(), u))
		for i, to := range bins {
			if from := to - 0.1; b.Probability > from && b.Probability <= to+1e-9 {
				count[i]++
				stated[i] += b.Probability
				if d < 0 && b.Diameter == 0 || d > 0 && math.Abs(b.Diameter-d) <= sameSize {
					right[i]++
				}
			}
		}
	}
	return count, stated, right
}

// Statements made with probability p are right with a frequency within 0.05 of it, over
// holes that follow another prior. Each of n statements is right or not; the bound adds
// 4.5 standard deviations of their sum, so that a program that keeps the 0.05 fails once
// in 100,000 runs. Probabilities that are off by 0.12 fail.
func TestCalibrated(t *testing.T) {
	p := populations()[0]
	count, stated, right := p.curve(trials.Of(3000, 1500), 1)
	var n, s, r, v float64
	for i := range bins {
		n, s, r = n+count[i], s+stated[i], r+right[i]
		v += stated[i] * (1 - stated[i]/max(count[i], 1))
	}
	t.Logf("%.0f statements: stated %.3f, right %.3f", n, s/n, r/n)
	assert.LessOrEqual(t, math.Abs(r-s), 0.05*n+4.5*math.Sqrt(v), fmt.Sprint(count, stated, right))
}
