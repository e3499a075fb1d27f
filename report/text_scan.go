package report

import (
	"fmt"
	"math"
	"strings"
)

// openPoints says what would settle each indeterminate result; of more than three
// like ones the one that is nearest its limit.
func (t *text) openPoints() {
	groups := likeResults(t.rep.Results, Indeterminate)
	if len(groups) == 0 {
		return
	}
	t.section()
	t.line("What would settle the open points")
	for _, g := range groups {
		if len(g) > 3 {
			hardest := g[0]
			for _, r := range g {
				if r.gap() < hardest.gap() {
					hardest = r
				}
			}
			g = []*Result{hardest}
		}
		for _, r := range g {
			t.b.WriteString("  ")
			t.paragraph(r.Feature+" "+strings.ReplaceAll(string(r.Characteristic), "_", " ")+": "+r.settle(), "    ")
		}
	}
}

// gap is the distance of the deviation from the nearest limit.
func (r *Result) gap() float64 {
	gap := math.Inf(1)
	for _, limit := range []*float64{r.Lower, r.Upper} {
		if limit != nil && r.Deviation != nil {
			gap = min(gap, math.Abs(*r.Deviation-*limit))
		}
	}
	return gap
}

// settle says what would turn an indeterminate result into a decided one. The
// scan's part of the uncertainty falls with the square root of the number of
// points and with the noise; the plan's part does not.
func (r *Result) settle() string {
	if r.Deviation == nil || !(r.Uncertainty > 0) {
		return "scan the feature again with more of it in view; this scan does not say how sure the number is."
	}
	gap, unit := r.gap(), r.unitWord()
	d := decimals(r.Uncertainty)
	if r.Lower != nil && r.Upper != nil && *r.Upper-*r.Lower < 2*r.Uncertainty {
		return fmt.Sprintf("the band is %s %s wide and the uncertainty +-%s, so nothing could pass; it takes a better measurement or a wider band.",
			short(*r.Upper-*r.Lower), unit, fixed(r.Uncertainty, d))
	}
	s := fmt.Sprintf("it lies %s %s from its limit, the uncertainty is +-%s", fixed(gap, d), unit, fixed(r.Uncertainty, d))
	wider := fixed(math.Ceil((r.Uncertainty-gap)*1e3)/1e3, 3)
	times := r.pointsToSettle()
	switch {
	case math.IsInf(times, 1):
		return s + fmt.Sprintf(", most of it from the plan's scanner figures, so a denser scan does not help. Measure it by hand, or let the limit be %s %s further out.", wider, unit)
	case times > 30:
		return s + fmt.Sprintf(", too near for a denser scan. Measure it by hand with a finer gauge, or let the limit be %s %s further out.", wider, unit)
	}
	return s + fmt.Sprintf(". A scan with %s times the points, or %s of the noise, would settle it; so would a limit %s %s further out.",
		fixed(math.Ceil(times*10)/10, 1), percent(1/math.Sqrt(times)), wider, unit)
}

// pointsToSettle is how many times the points it takes for the uncertainty to
// shrink to the gap; infinite where what the plan adds is more than that already.
//
//	U_scan²/times + U_plan² = gap²
func (r *Result) pointsToSettle() float64 {
	gap2, plan2 := r.gap()*r.gap(), r.FromPlan*r.FromPlan
	if plan2 >= gap2 {
		return math.Inf(1)
	}
	return (r.Uncertainty*r.Uncertainty - plan2) / (gap2 - plan2)
}

func percent(share float64) string { return fixed(math.Floor(100*share), 0) + " %" }

// notes writes how the plan was matched.
func (t *text) notes() {
	if len(t.rep.Notes) == 0 {
		return
	}
	t.section()
	for _, n := range t.rep.Notes {
		t.paragraph(n, "")
	}
}

// scan writes what was scanned, what was left out, and what looked odd.
func (t *text) scan() {
	s := &t.rep.Scan
	t.section()
	line := "Scan: "
	if s.Triangles > 0 {
		line += things(s.Triangles, "triangle") + ", "
	}
	line += things(s.Points, "point")
	if s.Unit != "" {
		line += fmt.Sprintf(", unit %s (%s)", s.Unit, s.UnitSource)
	}
	if s.Noise > 0 {
		line += ", noise " + atLeast(s.Noise, 3) + " mm"
		if s.CorrelationLength > 0 {
			line += " that neighbours share over " + atLeast(s.CorrelationLength, 2) + " mm"
		}
	}
	if s.Spacing > 0 {
		line += fmt.Sprintf(", spacing %s mm", fixed(s.Spacing, 2))
	}
	if u := t.rep.Surface; u != nil && u.Unassigned != nil {
		what := "surface belongs"
		if s.Triangles == 0 {
			what = "points belong"
		}
		line += fmt.Sprintf("; %s %% of the %s to no feature", fixed(100**u.Unassigned, 1), what)
	}
	if gone := s.Removed.text(s.FileTriangles > 0); gone != "" {
		line += "; left out: " + gone
	}
	t.paragraph(line+".", "  ")
	if s.UnitSource == "assumed" {
		t.paragraph("The file does not state its unit; millimetres are assumed. If the sizes above look wrong by a round factor, give the unit.", "")
	}
	for _, w := range s.Warnings {
		t.paragraph("Warning: "+w, "  ")
	}
}

func (r Removed) text(mesh bool) string {
	one := "point"
	if mesh {
		one = "triangle"
	}
	var parts []string
	add := func(n int, adj string) {
		if n > 0 {
			parts = append(parts, things(n, adj+" "+one))
		}
	}
	add(r.Broken, "broken")
	add(r.ZeroArea, "zero-area")
	add(r.Duplicate, "duplicate")
	add(r.Island, "stray")
	return list(parts)
}

// next says what to do next, and what a scan cannot do.
func (t *text) next() {
	t.section()
	var s string
	switch {
	case len(t.rep.Holes) == 0 && len(t.rep.Studs) == 0:
		s = "Next: look at the scan. A hole needs a piece of its wall or of its rim on a flat face; holes that the scanner's software closed are gone, and a wrong unit makes every hole too large or too small."
	case t.rep.Verdict == "":
		s = "Next: draft a plan from this report, set its nominal sizes and bands to what the joint needs, and check this part and the new one against it."
	case t.rep.Verdict == Nonconforming:
		s = "Next: confirm what is named above by hand (pin and caliper) before cutting or scrapping. If the part is right and the plan is not, correct the plan and check again."
	case t.rep.Verdict == Indeterminate:
		s = "Next: settle the open points above, then check again with the same plan."
	default:
		s = "Next: check the new part, or a trial print of it, against the same plan."
	}
	t.paragraph(s, "")
	if t.rep.Verdict != "" {
		t.paragraph(t.rep.Decision.sentence(), "  ")
	}
	t.paragraph("A scan approves nothing. Where the joint holds pressure, heat or hot liquid, local codes and licensed practice decide.", "")
}
