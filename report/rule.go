package report

import (
	"fmt"

	"spotface/report/wording"
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
		k = fmt.Sprintf("k = 2, up to %s where the plan's degrees of freedom are few",
			wording.Fixed(most, 2))
	}
	if place > 2.005 {
		k += fmt.Sprintf(" (of positions up to %s, since near zero they err upward only)",
			wording.Fixed(place, 2))
	}
	switch r {
	case SimpleAcceptance:
		return "Rule: the measured number alone decides (simple acceptance); near a limit it " +
			"may well be wrong."
	case GuardedRejection:
		return "Rule: nonconforming is only what lies outside by more than its uncertainty, " + k +
			" (guarded rejection)."
	}
	return "Rule: conforming with the whole uncertainty inside the band, nonconforming with " +
		"the whole of it outside, " + k + " (ISO 14253-1)."
}
