package report

import (
	"fmt"
	"math"

	"github.com/golang/geo/r1"

	"spotface/report/budget"
)

// Rule says how an uncertain number is held against a band.
type Rule string

const (
	// Guarded is the standard's rule: conforming where the whole of the
	// uncertainty lies inside the band, nonconforming where the whole of it lies
	// outside, else indeterminate (ISO 14253-1:2017, with U = k u for guard band,
	// k = 2).
	Guarded Rule = "guarded"
	// SimpleAcceptance looks at the number alone (JCGM 106:2012, 8.2). It never
	// says indeterminate, and near a limit it is wrong half the time.
	SimpleAcceptance Rule = "simple-acceptance"
	// GuardedRejection calls nonconforming only what lies outside by more than
	// its uncertainty, and all else conforming (JCGM 106:2012, 8.3.3).
	GuardedRejection Rule = "guarded-rejection"
)

// sentence says for a person what the rule does, and the coverage factors that it
// was used with.
func (r Rule) sentence(results []Result) string {
	k, most, place := "k = 2", 0.0, 0.0
	for _, v := range results {
		if v.Characteristic == Position {
			place = max(place, v.CoverageFactor)
		} else {
			most = max(most, v.CoverageFactor)
		}
	}
	if most > 2.005 {
		k = fmt.Sprintf("k = 2, up to %s where the plan's degrees of freedom are few", fixed(most, 2))
	}
	if place > 2.005 {
		k += fmt.Sprintf(" (of positions up to %s, since near zero they err upward only)", fixed(place, 2))
	}
	switch r {
	case SimpleAcceptance:
		return "Rule: the measured number alone decides (simple acceptance); near a limit it may well be wrong."
	case GuardedRejection:
		return "Rule: nonconforming is only what lies outside by more than its uncertainty, " + k + " (guarded rejection)."
	}
	return "Rule: conforming with the whole uncertainty inside the band, nonconforming with the whole of it outside, " + k + " (ISO 14253-1)."
}

// Decide holds a deviation with its standard uncertainty against a band: DecideBy
// its expanded uncertainty, k u with k = 2, or more where degrees of freedom are few.
func Decide(deviation float64, u budget.Standard, band r1.Interval, rule Rule) Verdict {
	return DecideBy(deviation, u.Expanded(), band, rule)
}

// DecideBy holds a deviation with its expanded uncertainty, the guard band, against
// a band, with the rule, empty for Guarded. The uncertainty must be above zero: what
// is not known to be sure is indeterminate, but for SimpleAcceptance, which does not
// ask.
func DecideBy(deviation, expanded float64, band r1.Interval, rule Rule) Verdict {
	if math.IsNaN(deviation) {
		return Indeterminate
	}
	inside := band.Contains(deviation)
	if rule == SimpleAcceptance {
		if inside {
			return Conforming
		}
		return Nonconforming
	}
	if !(expanded > 0) || math.IsInf(expanded, 0) {
		return Indeterminate
	}
	switch {
	case deviation+expanded < band.Lo || deviation-expanded > band.Hi:
		return Nonconforming
	case rule == GuardedRejection, band.Lo <= deviation-expanded && deviation+expanded <= band.Hi:
		return Conforming
	}
	return Indeterminate
}

// ConformanceProbability returns the probability that the true deviation lies in
// the band, for a normal distribution about the measured one with the standard
// uncertainty u (JCGM 106:2012, equation 7):
//
//	p = Φ((T_U - y)/u) - Φ((T_L - y)/u)
//
// Where degrees of freedom are few Student's t stands for the normal distribution
// (JCGM 101:2008, 6.4.9.4).
func ConformanceProbability(deviation float64, u budget.Standard, band r1.Interval) float64 {
	// Taken from the tail that is the smaller, so that no digits are lost.
	lo, hi := band.Lo-deviation, band.Hi-deviation
	if lo > 0 {
		lo, hi = -hi, -lo
	}
	return u.Below(hi) - u.Below(lo)
}
