package check

import (
	"math"

	"github.com/golang/geo/r1"

	"spotface/report"
	"spotface/report/budget"
)

// Decide compares a deviation with a band by a rule; empty means report.Guarded. The expanded
// uncertainty is the guard band. Where it is not above zero the verdict is indeterminate,
// except by report.SimpleAcceptance, which ignores it.
func Decide(deviation, expanded float64, band r1.Interval, rule report.Rule) report.Verdict {
	if math.IsNaN(deviation) {
		return report.Indeterminate
	}
	inside := band.Contains(deviation)
	if rule == report.SimpleAcceptance {
		if inside {
			return report.Conforming
		}
		return report.Nonconforming
	}
	if !(expanded > 0) || math.IsInf(expanded, 0) {
		return report.Indeterminate
	}
	switch {
	case deviation+expanded < band.Lo || deviation-expanded > band.Hi:
		return report.Nonconforming
	case rule == report.GuardedRejection,
		band.Lo <= deviation-expanded && deviation+expanded <= band.Hi:
		return report.Conforming
	}
	return report.Indeterminate
}

// ConformanceProbability returns the probability that the true deviation lies in
// the band, for a normal distribution about the measured one with the standard
// uncertainty u (JCGM 106:2012, equation 7):
//
//	p = Φ((T_U - y)/u) - Φ((T_L - y)/u)
//
// Where degrees of freedom are few Student's t replaces the normal distribution
// (JCGM 101:2008, 6.4.9.4).
func ConformanceProbability(deviation float64, u budget.Standard, band r1.Interval) float64 {
	// Taken from the tail that is the smaller, so that no digits are lost.
	lo, hi := band.Lo-deviation, band.Hi-deviation
	if lo > 0 {
		lo, hi = -hi, -lo
	}
	return u.Below(hi) - u.Below(lo)
}
