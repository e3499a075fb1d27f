package report

import (
	"fmt"

	"spotface/report/wording"
)

// Printed is how a printed trial differs from the plan that it was printed from:
//
//	length = scale × nominal,   diameter = scale × nominal + offset
//
// with one scale in the planes of the layers and one along the build direction, which is taken
// as perpendicular to the mounting face, and one offset for holes and one for outside diameters.
type Printed struct {
	InPlane *PrintError `json:"in_plane_scale,omitempty"` // nil: this part does not show it
	Along   *PrintError `json:"along_scale,omitempty"`
	Holes   *PrintError `json:"hole_offset,omitempty"`    // mm, below zero where holes came out small
	Outside *PrintError `json:"outside_offset,omitempty"` // mm
	// Cautions are complete sentences.
	Cautions []string `json:"cautions,omitempty"`
}

// PrintError is a scale or an offset of a print.
type PrintError struct {
	Value       float64 `json:"value"`
	Uncertainty float64 `json:"uncertainty"` // expanded, with what lengths of this print scatter by
	// CoverageFactor is more than 2 where the scatter is known from few lengths only.
	CoverageFactor float64 `json:"coverage_factor"`
	Lengths        int     `json:"lengths"` // distances, or diameters, that tell it
	// Corrected says that the next print's nominals are corrected by it: only what is more
	// than its uncertainty is.
	Corrected bool `json:"corrected"`
}

// Lines say what was found and what is corrected, lengths in mm.
func (p *Printed) Lines() []string { return p.lines(millimetre) }

func (p *Printed) lines(unit lengthUnit) (out []string) {
	say := func(what string, e *PrintError, off Number, in, one string) {
		done := "not corrected, since it is within its uncertainty"
		if e.Corrected {
			done = "corrected"
		}
		by := wording.Things(e.Lengths, one)
		if e.Lengths == 1 {
			by += ", which does not show what prints scatter by"
		}
		out = append(out, fmt.Sprintf("%s: %s %s (by %s): %s", what, off.SignedU(), in, by, done))
	}
	scale := func(what string, e *PrintError) {
		if e == nil {
			out = append(out, what+": not shown by two features whose places the plan has, so not corrected")
			return
		}
		u := 100 * e.Uncertainty
		say(what, e, raw(100*(e.Value-1), u).rounded(wording.Decimals(u)), "%", "length")
	}
	offset := func(what string, e *PrintError) {
		if e != nil {
			say(what+", beside that", e, unit.number(e.Value, e.Uncertainty), unit.name, "diameter")
		}
	}
	scale("lengths in plane", p.InPlane)
	scale("lengths along the build direction", p.Along)
	offset("holes", p.Holes)
	offset("outside diameters", p.Outside)
	return out
}

// printed says how a trial came out.
func (b *viewer) printed() {
	if p := b.rep.Printed; p != nil {
		b.v.Headline = append(b.v.Headline,
			Statement{"Printed against the plan's own nominals:", p.lines(b.unit)})
		b.detail("Before the next print", nil, p.Cautions...)
	}
}
