package report

import (
	"fmt"
	"strings"

	"spotface/report/wording"
)

// scan says how the plan was matched, what was scanned, and what was left out of it.
func (b *viewer) scan() {
	notes := b.rep.Notes
	if s := b.rep.Scale; s != nil && s.Agrees {
		notes = append(s.sentences(b.unit), notes...)
	}
	b.detail("How the plan was laid on the scan", nil, notes...)
	s := &b.rep.Scan
	line := ""
	if s.Triangles > 0 {
		line = wording.Things(s.Triangles, "triangle") + ", "
	}
	line += wording.Things(s.Points, "point")
	if s.Noise > 0 {
		noise, less, _ := strings.Cut(wording.AtLeast(s.Noise/b.unit.mm, b.unit.most), " ")
		line += strings.TrimSuffix(fmt.Sprintf(", surface noise %s %s %s", noise, b.unit.name,
			less), " ")
		if s.CorrelationLength > 0 {
			line += fmt.Sprintf(" that neighbours share over %s %s",
				b.unit.number(s.CorrelationLength, 0), b.unit.name)
		}
	}
	if s.Spacing > 0 {
		line += fmt.Sprintf(", %s %s from point to point", b.unit.number(s.Spacing, 0), b.unit.name)
	}
	if u := b.rep.Surface; u != nil && u.Unassigned != nil {
		line += fmt.Sprintf("; %s %% not used", wording.Fixed(100**u.Unassigned, 1))
	}
	if gone := s.Removed.text(s.FileTriangles > 0); gone != "" {
		line += "; left out: " + gone
	}
	if n := s.Removed.Rewound; n > 0 {
		line += "; wound the other way: " + wording.Things(n, "triangle")
	}
	text := []string{line + "."}
	if b.rep.Verdict != "" {
		text = append(text, b.rep.Decision.sentence(b.rep.Results))
	}
	b.detail("The scan", nil, text...)
}

func (r Removed) text(mesh bool) string {
	one := "point"
	if mesh {
		one = "triangle"
	}
	var parts []string
	add := func(n int, adj string) {
		if n > 0 {
			parts = append(parts, wording.Things(n, adj+" "+one))
		}
	}
	add(r.Broken, "broken")
	add(r.ZeroArea, "zero-area")
	add(r.Duplicate, "duplicate")
	return wording.List(parts)
}
