package report

import (
	"fmt"

	"spotface/report/wording"
)

// notes writes how the plan was matched.
func (t *text) notes() {
	notes := t.rep.Notes
	if s := t.rep.Scale; s != nil && s.Agrees {
		notes = append(s.sentences(), notes...)
	}
	if len(notes) == 0 {
		return
	}
	t.section()
	for _, n := range notes {
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
	if n := s.Removed.Rewound; n > 0 {
		line += "; wound the other way: " + things(n, "triangle")
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
	return wording.List(parts)
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
		t.paragraph(t.rep.Decision.sentence(t.rep.Results), "  ")
	}
	t.paragraph("A scan approves nothing. Where the joint holds pressure, heat or hot liquid, local codes and licensed practice decide.", "")
}
