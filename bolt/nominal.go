package bolt

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"
)

// Readings returns the regular patterns that holes of one face may have been
// meant as, likeliest first, with the probability of each in Confidence;
// holes[0] is the clocking hole. The irregular reading is among them.
//
// Each reading k is a spacing with a place for each hole; its probability is
//
//	P(k | angles) ∝ P(k) · Π p(d_i)
//
// (Bayes), where d_i is hole i's deviation along the circle from the reading
// turned to its best fit. p(d) is a mixture of three normal densities: 85 %
// of holes stand within a workshop's usual care (standard deviation 0.15 mm,
// the permissible ±0.3 mm of ISO 2768-1 class m for 30 to 120 mm taken as two
// of them), 12 % four times and 3 % sixteen times as far off, each widened by
// the hole's own uncertainty and by what the fitted centre adds. The prior
// P(k) favours full rings, then rings with few holes missing, then partial
// rings; among the patterns with equally many places missing all are alike
// (which is what keeps fine spacings, that fit anything, from winning). These
// weights are common practice, no source.
func Readings(holes []Hole) ([]Nominal, error) {
	l, err := layHoles(holes)
	if err != nil {
		return nil, err
	}
	return l.readings(), nil
}

// Prior weights of readings, and the mixture of drilling errors.
const (
	priorMissing   = 0.3  // a ring that lacks holes, less with each
	priorPartial   = 0.03 // holes over part of a ring
	priorOddStep   = 0.1  // a partial ring whose spacing is not that of a ring of 12 or fewer
	priorIrregular = 0.02 // no pattern at all

	drillSD = 0.15 // mm
)

var drillMix = [...]struct{ share, scale float64 }{{0.85, 1}, {0.12, 4}, {0.03, 16}}

// reading is a Nominal with its log weight while they are weighed.
type reading struct {
	nominal Nominal
	log     float64
}

func (l *laid) readings() []Nominal {
	n := len(l.pts)
	stretch, rows := l.stretch(), l.angleRows()
	mix := make([]drill, n)
	for i := range n {
		mix[i] = newDrill(stretch[i], l.ring.r*l.cov.sd(rows[i]))
	}
	var all []reading
	for m := n; m <= finestStep; m++ {
		all = append(all, l.tryStep(2*math.Pi/float64(m), m, mix)...)
	}
	for deg := 5; deg <= 175; deg += 5 {
		if 360%deg != 0 {
			all = append(all, l.tryStep(float64(deg)*math.Pi/180, 0, mix)...)
		}
	}
	// Irregular: n free angles, in any order.
	free := math.Log(priorIrregular) - float64(n)*math.Log(2*math.Pi*l.ring.r) + logFactorial(n)
	all = append(all, reading{Nominal{Irregular: true}, free})

	top := math.Inf(-1)
	for _, r := range all {
		top = max(top, r.log)
	}
	var sum float64
	for _, r := range all {
		sum += math.Exp(r.log - top)
	}
	slices.SortStableFunc(all, func(a, b reading) int {
		switch {
		case a.log > b.log:
			return -1
		case a.log < b.log:
			return 1
		}
		return 0
	})
	out := make([]Nominal, len(all))
	for i, r := range all {
		out[i] = r.nominal
		out[i].Confidence = math.Exp(r.log-top) / sum
	}
	return out
}

// finestStep is the number of steps in a turn of the finest spacing tried: 5
// degrees. At most half the places of a reading may lack a hole.
const finestStep = 72

// tryStep weighs the grid of the given step; m is the number of steps in a
// turn, or 0 if the step does not divide it.
func (l *laid) tryStep(step float64, m int, mix []drill) []reading {
	n := len(l.pts)
	// Best turn: the one of each hole, then the mean over all of them.
	best, bestLog := []int(nil), math.Inf(-1)
	place := make([]int, n)
	dev := make([]float64, n)
	for first := range n {
		ok := true
		for i := range n {
			a := l.angle[i] - l.angle[first]
			if m == 0 && i < first {
				a += 2 * math.Pi // an open row has its first hole first
			}
			place[i] = int(math.Round(a / step))
			dev[i] = a - float64(place[i])*step
			if m > 0 {
				place[i] = ((place[i] % m) + m) % m
			}
		}
		seen := slices.Sorted(slices.Values(place))
		for i := 1; i < n; i++ {
			ok = ok && seen[i] != seen[i-1]
		}
		if !ok {
			continue
		}
		for _, turn := range []float64{0, mean(dev)} {
			var sum float64
			for i := range n {
				sum += mix[i].log((dev[i] - turn) * l.ring.r)
			}
			if sum > bestLog {
				best, bestLog = slices.Clone(place), sum
			}
		}
	}
	if best == nil {
		return nil
	}
	if m == 0 {
		return l.openReading(step, best, bestLog)
	}
	return l.ringReadings(step, m, best, bestLog)
}

// ringReadings reads places on a grid of m steps as a full ring, with holes
// missing or not, and as a partial ring across its widest gap.
func (l *laid) ringReadings(step float64, m int, place []int, log float64) []reading {
	n := len(place)
	base := log + l.logTurn(step)
	full := Nominal{Positions: m, Spacing: s1.Angle(step), FullRing: true}
	taken := make([]bool, m)
	for _, p := range place {
		k := ((p-place[0])%m + m) % m
		taken[k] = true
		full.Angles = append(full.Angles, s1.Angle(float64(k)*step))
	}
	for k, t := range taken {
		if !t {
			full.Missing = append(full.Missing, s1.Angle(float64(k)*step))
		}
	}
	slices.Sort(full.Angles)
	missing := m - n
	if missing == 0 {
		return []reading{{full, base}}
	}
	var out []reading
	if m <= 2*n {
		prior := math.Log(priorMissing) - 12*float64(missing)/float64(m) - logChoose(m, n)
		out = append(out, reading{full, base + prior})
	}

	// Partial: from behind the widest gap round to before it.
	gap, after := 0, 0
	for k := range m {
		if taken[k] {
			continue
		}
		run := 0
		for run < m && !taken[(k+run)%m] {
			run++
		}
		if run > gap {
			gap, after = run, (k+run)%m
		}
	}
	positions := m - gap
	if gap < 2 || positions > 2*n {
		return out
	}
	part := Nominal{Positions: positions, Spacing: s1.Angle(step), Angles: full.Angles}
	for k := range positions {
		if at := (after + k) % m; !taken[at] {
			part.Missing = append(part.Missing, s1.Angle(float64(at)*step))
		}
	}
	slices.Sort(part.Missing)
	prior := math.Log(priorPartial)
	if m > 12 {
		prior += math.Log(priorOddStep)
	}
	prior -= 12*float64(positions-n)/float64(positions) + logChoose(positions-2, n-2)
	return append(out, reading{part, base + prior})
}

// openReading reads places on a grid whose step does not divide the turn.
func (l *laid) openReading(step float64, place []int, log float64) []reading {
	n := len(place)
	lo, hi := slices.Min(place), slices.Max(place)
	positions := hi - lo + 1
	if float64(positions)*step > 2*math.Pi || positions > 2*n {
		return nil
	}
	part := Nominal{Positions: positions, Spacing: s1.Angle(step)}
	taken := make([]bool, positions)
	turn := func(k int) s1.Angle { return s1.Angle(wrap(float64(k-(place[0]-lo)) * step)) }
	for _, p := range place {
		taken[p-lo] = true
		part.Angles = append(part.Angles, turn(p-lo))
	}
	for k, t := range taken {
		if !t {
			part.Missing = append(part.Missing, turn(k))
		}
	}
	slices.Sort(part.Angles)
	slices.Sort(part.Missing)
	prior := math.Log(priorPartial*priorOddStep) + l.logTurn(step) -
		12*float64(positions-n)/float64(positions) - logChoose(positions-2, n-2)
	return []reading{{part, log + prior}}
}

// logTurn is the log of what the pattern's free turn contributes: all turns
// within a step alike, of which the holes leave a peak about drillSD √(2π/n)
// wide.
func (l *laid) logTurn(step float64) float64 {
	return math.Log(drillSD * math.Sqrt(2*math.Pi/float64(len(l.pts))) / (step * l.ring.r))
}

// drill is the mixture of drilling errors of one hole: amplitudes and 1/2s² of
// its normal densities, along the circle.
type drill struct{ amp, exponent [len(drillMix)]float64 }

// newDrill widens the mixture by what the fitted centre adds (stretch) and by
// the hole's own standard uncertainty sd, mm.
func newDrill(stretch, sd float64) drill {
	var d drill
	for k, m := range drillMix {
		s := math.Hypot(drillSD*m.scale*stretch, sd)
		d.amp[k] = m.share / (s * math.Sqrt(2*math.Pi))
		d.exponent[k] = -1 / (2 * s * s)
	}
	return d
}

// log is ln p(d) of a deviation x along the circle, mm.
func (d *drill) log(x float64) float64 {
	var p float64
	x2 := x * x
	for k, e := range d.exponent {
		if e*x2 > -50 {
			p += d.amp[k] * math.Exp(e*x2)
		}
	}
	if p == 0 {
		return -1e4
	}
	return math.Log(p)
}

func mean(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

func logFactorial(n int) float64 {
	g, _ := math.Lgamma(float64(n + 1))
	return g
}

func logChoose(n, k int) float64 {
	if k < 0 || k > n {
		return 0
	}
	return logFactorial(n) - logFactorial(k) - logFactorial(n-k)
}
