package pattern

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/floats"

	"spotface/mesh/geom"
)

// Kind of a pattern.
type Kind string

// A ring has equal steps round a circle; a rectangle is a grid of 2 by 2, a line one of
// a single row.
const (
	Ring      Kind = "ring"
	Rectangle Kind = "rectangle"
	Grid      Kind = "grid"
	Line      Kind = "line"
	Irregular Kind = "irregular"
)

// Reading is one nominal pattern that features may have been meant as.
type Reading struct {
	Kind Kind
	// Of a ring: positions from the first to the last, those without a feature
	// included; Step between neighbours; Full: they go all the way round. Angles of the
	// features and of the positions without one, counter-clockwise from the first
	// feature. Offset features are off their position on purpose, by whole degrees.
	Positions       int
	Step            s1.Angle
	Full            bool
	Angles, Missing []s1.Angle
	Offset          []int
	// Of a grid: column and row of each feature.
	Columns, Rows int
	Cells         [][2]int
	Square        bool // one pitch both ways
	// Probability is that of this reading among those tried.
	Probability float64

	log float64 // of what it makes of the features' places
}

// What says the reading in a few words.
func (r *Reading) What() string {
	switch {
	case r.Kind == Irregular:
		return "no regular pattern"
	case r.Kind == Line:
		return fmt.Sprintf("%d in a line", r.Columns)
	case r.Kind != Ring:
		return fmt.Sprintf("%d x %d %s", r.Rows, r.Columns, r.Kind)
	}
	s := fmt.Sprintf("%d positions at %.6g degrees", r.Positions, math.Round(r.Step.Degrees()*1e3)/1e3)
	if !r.Full {
		s += ", part of a ring"
	}
	if k := len(r.Missing); k > 0 {
		s += fmt.Sprintf(", %d without a hole", k)
	}
	if len(r.Offset) > 0 {
		s += ", one offset on purpose"
	}
	return s
}

// Readings returns the rings that features on one circle may have been meant as, no
// regular pattern among them, likeliest first. Features[0] is counted from.
//
// The probability of reading k is P(k) p(places | k) over the sum of all (Bayes). Each
// feature lies off its place by the density of drillError, 85 % of them with a
// workshop's usual care, which itself may be less than usual for all of them (careMix). The
// prior P(k) favours few positions (1/m²), full rings, then
// those with few positions empty, then parts of a ring; among readings with equally
// many empty all are alike, so that fine steps, which fit anything, do not win. Its
// weights (params.go) are common practice, no source. Where places leave it to the prior,
// below some 80 %, statements are right up to 12 points less often than stated, by how
// patterns are drawn (testdata/studies/nominal.md).
func Readings(p Places) ([]Reading, error) {
	g, err := FitRing(p.XY)
	if err != nil {
		return nil, err
	}
	h := newRingOn(p.XY, complex(g.X, g.Y), g.R, 4*math.Pi*g.R*g.R, careMix[:], p.variance)
	return normalised(h.readings()), nil
}

// readings are those of the features.
func (h *ringOn) readings() []Reading {
	all := []Reading{h.irregular()}
	try := func(step float64, m int) {
		var as [][]int
		for i := range h.z {
			as = append(as, h.counted(step, m, i))
		}
		all = append(all, h.stepped(step, m, as...)...)
	}
	for m := len(h.z); m <= finestStep; m++ {
		try(2*math.Pi/float64(m), m)
	}
	for deg := 5; deg <= 175; deg += 5 {
		if 360%deg != 0 {
			try(float64(deg)*math.Pi/180, 0)
		}
	}
	return all
}

// normalised sets the readings' probabilities and puts the likeliest first.
func normalised(all []Reading) []Reading {
	top, sum := math.Inf(-1), 0.0
	for _, r := range all {
		top = max(top, r.log)
	}
	for _, r := range all {
		sum += math.Exp(r.log - top)
	}
	for i := range all {
		all[i].Probability = math.Exp(all[i].log-top) / sum
	}
	slices.SortStableFunc(all, func(a, b Reading) int { return cmp.Compare(b.log, a.log) })
	return all
}

// variance is that of place i, mm², the mean of both directions.
func (p *Places) variance(i int) float64 {
	return (p.Cov.At(2*i, 2*i) + p.Cov.At(2*i+1, 2*i+1)) / 2
}

// ringOn are features on one circle.
type ringOn struct {
	z     []complex128
	theta []float64 // about the circle's centre
	r     float64
	area  float64
	mix   []careOf
	d     [][]drillError // of each feature by each care
}

func newRingOn(xy [][2]float64, c complex128, r, area float64, mix []careOf, variance func(int) float64) *ringOn {
	h := &ringOn{r: r, area: area, mix: mix, d: make([][]drillError, len(mix))}
	for i, p := range xy {
		z := complex(p[0], p[1])
		h.z, h.theta = append(h.z, z), append(h.theta, cmplx.Phase(z-c))
		for k, m := range mix {
			h.d[k] = append(h.d[k], newDrillError(2*r, m.scale, variance(i)))
		}
	}
	return h
}

// mixed is the log of what the cares make of the places together.
func (h *ringOn) mixed(by func([]drillError) float64) float64 {
	all := make([]float64, len(h.mix))
	for k, m := range h.mix {
		all[k] = math.Log(m.share) + by(h.d[k])
	}
	return floats.LogSumExp(all)
}

// evidence is that of nominal places e.
func (h *ringOn) evidence(e []complex128, turns float64) float64 {
	return h.mixed(func(d []drillError) float64 {
		l := lay(h.z, e, d, false)
		return l.evidence(h.area, turns)
	})
}

// irregular is the reading as places on the circle in no steps: some of them anywhere,
// some spread round it, one to each of n equal sectors. Which feature is which does not
// count, as for a ring: n! ways.
func (h *ringOn) irregular() Reading {
	n := float64(len(h.z))
	sector := 2 * math.Pi / n
	lo, hi := math.Inf(1), math.Inf(-1)
	for k, a := range slices.Sorted(slices.Values(h.theta)) {
		lo, hi = min(lo, a-float64(k)*sector), max(hi, a-float64(k)*sector)
	}
	spread := math.Log(max(0, 1-(hi-lo)/sector)) + n*math.Log(n)
	log := floats.LogSumExp([]float64{math.Log(1-priorSpread) + logFactorial(len(h.z)), math.Log(priorSpread) + spread}) - n*math.Log(2*math.Pi*h.r)
	return Reading{Kind: Irregular, log: h.mixed(h.radial) + log + math.Log(priorIrregular) + logCount(len(h.z))}
}

// radial is ln p of the radial residuals, with the densities of one direction; the circle
// is that of least squares.
func (h *ringOn) radial(d []drillError) (log float64) {
	var c complex128
	n := float64(len(h.z))
	for i, z := range h.z {
		c += (z - cmplx.Rect(h.r, h.theta[i])) / complex(n, 0)
	}
	var w, ux, uy, xx, yy, xy float64
	for i, z := range h.z {
		e := cmplx.Abs(z-c) - h.r
		var p, pw float64
		for k, inv := range d[i].inv {
			q := d[i].amp[k] * math.Sqrt(2*math.Pi/inv) * math.Exp(-e*e*inv/2)
			p, pw = p+q, pw+q*inv
		}
		k := pw / max(p, 1e-300)
		sin, cos := math.Sincos(h.theta[i])
		log += math.Log(max(p, 1e-300))
		w, ux, uy = w+k, ux+k*cos, uy+k*sin
		xx, yy, xy = xx+k*cos*cos, yy+k*sin*sin, xy+k*sin*cos
	}
	det := xx*(yy*w-uy*uy) - xy*(xy*w-uy*ux) + ux*(xy*uy-yy*ux)
	return log + 1.5*math.Log(2*math.Pi) - 0.5*math.Log(max(det, 1e-300)) - math.Log(h.area*h.r*sizeRange)
}

// counted are the places of the features in steps, counted from one of them; m is the
// number of steps in a turn, or 0 where the step does not divide it.
func (h *ringOn) counted(step float64, m, first int) []int {
	place := make([]int, len(h.z))
	for i := range place {
		a := h.theta[i] - h.theta[first]
		if m == 0 {
			a = geom.Wrap(a) // an open row has its first feature first
		}
		place[i] = int(math.Round(a / step))
	}
	return place
}

// stepped reads the features as places of a grid of steps, m as for counted.
func (h *ringOn) stepped(step float64, m int, as ...[]int) (out []Reading) {
	n := len(h.z)
	if m > 0 && m < n {
		return nil
	}
	var seen [][]int
	e := make([]complex128, n)
	for _, place := range as {
		for i, base := n-1, place[0]; i >= 0 && m > 0; i-- {
			place[i] = ((place[i]-base)%m + m) % m
		}
		if repeats(place) || slices.ContainsFunc(seen, func(p []int) bool { return slices.Equal(p, place) }) {
			continue
		}
		seen = append(seen, place)
		for i, k := range place {
			e[i] = cmplx.Rect(1, float64(k)*step)
		}
		turns := step
		if m == 0 {
			turns = 2 * math.Pi
		}
		read := rings(step, m, place)
		if len(read) == 0 {
			continue
		}
		log := h.evidence(e, turns)
		for _, r := range read {
			r.log += log
			out = append(out, r)
		}
		out = append(out, h.offset(step, m, place, e)...)
	}
	return out
}

// offset reads a full ring with one feature off its position on purpose by whole degrees.
func (h *ringOn) offset(step float64, m int, place []int, e []complex128) (out []Reading) {
	n := len(place)
	if n != m || n < 4 {
		return nil
	}
	rest := lay(h.z, e, h.d[0], false)
	// Of one that is off by far, the others say where it should be.
	worst, far := 0, 0.0
	for i := range h.z {
		if d := square(h.z[i] - rest.at(e[i])); d > far {
			worst, far = i, d
		}
	}
	others := Without(n, worst)
	z, u, d := make([]complex128, n-1), make([]complex128, n-1), make([]drillError, n-1)
	for k, i := range others {
		z[k], u[k], d[k] = h.z[i], e[i], h.d[0][i]
	}
	rest = lay(z, u, d, false)
	deg := math.Round(cmplx.Phase((h.z[worst]-rest.c)/rest.x/e[worst]) * 180 / math.Pi)
	most := math.Ceil(step*90/math.Pi) - 1
	if math.Abs(deg) < leastOffset || math.Abs(deg) > most {
		return nil
	}
	turned := slices.Clone(e)
	turned[worst] *= cmplx.Rect(1, deg*math.Pi/180)
	r := rings(step, m, place)[0]
	r.Offset = []int{worst}
	// Multiples of 5 degrees share a weight of their own, all amounts the rest.
	share := (1 - priorFives) / (2 * most)
	if math.Mod(deg, 5) == 0 {
		share += priorFives / max(1, 2*math.Floor(most/5))
	}
	r.log += h.evidence(turned, step) + math.Log(priorOffset*share/float64(n))
	if worst == 0 {
		for i := range r.Angles {
			r.Angles[i] = s1.Angle(geom.Wrap(r.Angles[i].Radians() - deg*math.Pi/180))
		}
		r.Angles[0] = 0
	} else {
		r.Angles[worst] += s1.Angle(deg) * s1.Degree
	}
	return []Reading{r}
}

// rings reads places in steps, m as for counted, as a full ring, with some empty or not, and
// as part of one across its widest gap. Their log is that of the prior.
func rings(step float64, m int, place []int) (out []Reading) {
	n := len(place)
	add := func(first, positions int, log float64) {
		r := Reading{Kind: Ring, Positions: positions, Step: s1.Angle(step), Full: positions == m, log: log}
		turn := func(k int) s1.Angle { return s1.Angle(geom.Wrap(float64(k-place[0]) * step)) }
		for _, k := range place {
			r.Angles = append(r.Angles, turn(k))
		}
		for k := first; k < first+positions; k++ {
			if !slices.Contains(place, k) && !(m > 0 && slices.Contains(place, k-m)) {
				r.Missing = append(r.Missing, turn(k))
			}
		}
		slices.Sort(r.Missing)
		out = append(out, r)
	}
	if n == m {
		add(0, m, logCount(m))
		return out
	}
	if 0 < m && m <= 2*n {
		add(0, m, logCount(m)+logMissing(m, n))
	}
	sorted := slices.Sorted(slices.Values(place))
	first, positions, log := sorted[0], sorted[n-1]-sorted[0]+1, math.Log(priorPart)+partStep(step)
	if m > 0 {
		positions, log = m, log-math.Log(float64(m)) // one of m turns
		for i := 1; i <= n; i++ {
			k, before := sorted[i%n], sorted[i-1]
			if left := m - (k-before+m)%m + 1; left < positions {
				first, positions = k, left
			}
		}
	}
	if positions <= 2*n && (m == 0 || positions < m-1) && float64(positions)*step <= 2*math.Pi {
		add(first, positions, log+partLength(positions, n))
	}
	return out
}

// logCount is the log prior of the number of positions of a pattern.
func logCount(m int) float64 { return -2*math.Log(float64(m)) - math.Log(sumSquares) }

// logMissing is the log prior that n of m positions have a feature, and which.
func logMissing(m, n int) float64 {
	rate, sum := missingRate/float64(m), 0.0
	for empty := 1; empty <= m/2; empty++ {
		sum += math.Exp(-rate * float64(empty))
	}
	return math.Log(priorMissing/sum) - rate*float64(m-n) - logChoose(m, n)
}

// partLength is the log prior of how many positions part of a ring has, and which
// of those between its ends are empty.
func partLength(positions, n int) float64 {
	return logCount(positions) - missingRate*float64(positions-n)/float64(positions) - logChoose(positions-2, n-2)
}

// partStep is the log prior of the step of part of a ring: a drawing says 30 or 20 degrees,
// hardly 32.7.
func partStep(step float64) float64 {
	whole := func(deg float64) bool {
		k := step * 180 / math.Pi / deg
		return math.Abs(k-math.Round(k)) < 1e-6
	}
	switch {
	case whole(15):
		return math.Log(priorRoundStep / 8)
	case whole(5) || whole(7.5):
		return math.Log((1 - priorRoundStep - priorOddStep) / 24)
	}
	return math.Log(priorOddStep / 60)
}

func repeats(v []int) bool {
	for i, a := range v {
		if slices.Contains(v[:i], a) {
			return true
		}
	}
	return false
}
