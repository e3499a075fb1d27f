package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"spotface/report/wording"
)

// openPoints says what would settle each indeterminate result; of more than three
// like ones the one that is nearest its limit.
func (b *viewer) openPoints() {
	var text []string
	for _, g := range likeResults(b.results,
		func(r *Result) bool { return r.Verdict == Indeterminate }) {
		if len(g) > 3 {
			g = []*Result{slices.MinFunc(g,
				func(x, y *Result) int { return cmp.Compare(x.gap(), y.gap()) })}
		}
		for _, r := range g {
			text = append(text, plain(r.Characteristic)+" "+r.name()+": "+r.settle())
		}
	}
	if len(text) > 0 {
		b.v.Details = append(b.v.Details,
			Section{Title: "What would settle the open points", Text: text, ToDo: true})
	}
}

// FormOrNoise is what is in the way where noise looks like form.
const FormOrNoise = "the scan's noise is correlated over so much of it that form cannot be " +
	"distinguished from noise"

// gap is the distance of the deviation from the nearest limit: an uncertainty below
// it decides.
func (r *Result) gap() float64 {
	gap := math.Inf(1)
	for _, limit := range []*float64{r.Lower, r.Upper} {
		if limit != nil && r.Deviation != nil {
			gap = min(gap, math.Abs(*r.Deviation-*limit))
		}
	}
	return gap
}

// settle says what would turn an indeterminate result into a decided one.
func (r *Result) settle() string {
	if r.Deviation == nil || !(r.Uncertainty > 0) {
		return "scan the feature again with more of it in view; this scan does not say how " +
			"sure the number is."
	}
	if r.Why == FormOrNoise {
		return "no more points of the same kind: noise over so much of the surface looks like " +
			"form. Scan it again from another side or with another scanner, or take it with a " +
			"straightedge and feeler gauges."
	}
	gap, unit, d, k := r.gap(), r.unitWord(), r.decimals(), r.CoverageFactor
	fixed := func(v float64) string { return wording.Fixed(v, d) }
	s := fmt.Sprintf("it lies %s %s from its limit, the uncertainty is +-%s. ", fixed(gap), unit,
		fixed(r.Uncertainty))
	if r.Lower != nil && r.Upper != nil && *r.Upper-*r.Lower < 2*r.Uncertainty {
		s = fmt.Sprintf("the band is %s %s wide and the uncertainty +-%s, so nothing could pass. ",
			wording.Short(*r.Upper-*r.Lower), unit, fixed(r.Uncertainty))
	}
	s += "To decide: "
	p := math.Pow(10, float64(d))
	widen := fmt.Sprintf("widen the limit by %s %s.", fixed(math.Ceil((r.Uncertainty-gap)*p)/p), unit)
	worst := r.worstOfPlan()
	// This source known so well, the others as they are, brings the uncertainty down to the gap.
	rest := sq2(r.Uncertainty/k) - sq2(worst.Contribution)
	need := math.Sqrt(max(sq2(gap/k)-rest, 0)) / worst.Contribution * worst.Standard
	switch times := r.pointsToSettle(); {
	case r.FromPlan < gap && times <= 30:
		return s + fmt.Sprintf("scan closer or add passes, about %s times the points in all, or %s",
			wording.Fixed(math.Ceil(times*10)/10, 1), widen)
	case r.FromPlan < gap:
		return s + "take it by hand with a finer gauge, since no scan is fine enough, or " + widen
	case worst.Source == SourceLength &&
		(r.Characteristic == Diameter || r.Characteristic == PitchDiameter):
		return s + fmt.Sprintf("take this length by hand to +-%s %s, in the plan under "+
			"reference_lengths with set_scale, or %s The %s alone is +-%s.",
			wording.Digits(gap), unit, widen, worst.Source, fixed(k*worst.Contribution))
	case need > 0:
		return s + fmt.Sprintf("know the %s to +-%s %s instead of +-%s, or %s More points do not help.",
			worst.Source, wording.Digits(k*need), worst.Unit, wording.Digits(k*worst.Standard), widen)
	}
	return s + fmt.Sprintf("take it by hand with a finer gauge, or %s More points do not help: "+
		"what the plan adds, most of it %s, is +-%s.", widen, worst.Source, fixed(r.FromPlan))
}

// pointsToSettle is how many times the points it takes for the uncertainty to
// shrink to the gap; infinite where what the plan adds is more than that already. Noise
// falls with the root of the number of points, smoothing with the square of their spacing:
// with n times the points on the surface,
//
//	noise²/n + smoothing²/n² + plan² = gap²
func (r *Result) pointsToSettle() float64 {
	u2 := 0.0
	for _, l := range r.Budget {
		if l.Source == SourceSmoothing {
			u2 += sq2(r.CoverageFactor * l.Contribution)
		}
	}
	n2 := max(0, sq2(r.Uncertainty)-sq2(r.FromPlan)-u2)
	room := sq2(r.gap()) - sq2(r.FromPlan)
	if room <= 0 {
		return math.Inf(1)
	}
	return (n2 + math.Sqrt(n2*n2+4*u2*room)) / (2 * room)
}

// worstOfPlan is the plan's source that contributes most.
func (r *Result) worstOfPlan() BudgetLine {
	var worst BudgetLine
	for _, l := range r.Budget {
		if !l.FromScan() && l.Contribution > worst.Contribution {
			worst = l
		}
	}
	return worst
}

func sq2(v float64) float64 { return v * v }
