package report

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"spotface/bolt"
	"spotface/bolt/sizes"
	"spotface/mesh"
	"spotface/report/wording"
)

// UnitCheck is what the sizes of a scan say of its unit, where millimetres were assumed
// and another unit is not ruled out. Nothing is rescaled for it.
type UnitCheck struct {
	Doubt    bool          `json:"doubt"` // millimetres are improbable
	Readings []UnitReading `json:"readings"`
}

// UnitReading is a unit that the file's numbers may be in, and which of its holes and
// bores then have a standard size.
type UnitReading struct {
	Unit        string   `json:"unit"`
	Probability float64  `json:"probability"`
	Width       float64  `json:"width"`           // of the scan, mm
	Sizes       []string `json:"sizes,omitempty"` // "6.746: clearance for 1/4 in (ASME B18.2.8 close)"
}

// ErrUnitInDoubt says that the sizes speak for another unit than the assumed one.
var ErrUnitInDoubt = errors.New("the unit is in doubt")

// UnitInDoubt returns an error with the reason, which wraps ErrUnitInDoubt, where the
// scan's unit was assumed and its sizes speak for another one.
func (rep *Report) UnitInDoubt() error {
	c := rep.Scan.UnitCheck
	if c == nil || !c.Doubt {
		return nil
	}
	return fmt.Errorf("%w: the file states none and its sizes speak for %s: give the unit, "+
		"mm if that is right",
		ErrUnitInDoubt, c.speakFor())
}

// unitWords are the units as a sentence has them.
var unitWords = map[string]string{"mm": "millimetres", "cm": "centimetres", "m": "metres",
	"in": "inches", "ft": "feet"}

// speakFor lists the readings: "inches (98 %)".
func (c *UnitCheck) speakFor() string {
	return strings.Join(each(c.Readings, func(r UnitReading) string {
		return fmt.Sprintf("%s (%s)", unitWords[r.Unit], chance(r.Probability))
	}), " or ")
}

// proposed is the most probable unit other than millimetres.
func (c *UnitCheck) proposed() string {
	for _, r := range c.Readings {
		if r.Unit != "mm" {
			return r.Unit
		}
	}
	return "mm"
}

// sentence says what is proposed, and why.
func (c *UnitCheck) sentence() string {
	s := "Its sizes would be standard in another unit, too: they speak for "
	if c.Doubt {
		s = unitHint + ", but its sizes speak for "
	}
	s += c.speakFor() + "."
	for _, r := range c.Readings {
		has := r.Sizes
		if r.Width > 0 {
			has = append([]string{fmt.Sprintf("about %s mm from corner to corner",
				wording.Digits(r.Width))}, has...)
		}
		if len(has) > 0 {
			s += fmt.Sprintf(" In %s: %s.", unitWords[r.Unit], strings.Join(has, "; "))
		}
	}
	return s + " Nothing is rescaled: give the unit."
}

// sizeWords is the size with what it serves as: "6.6: clearance for M6 (ISO 273 medium)".
func (l lengthUnit) sizeWords(s sizes.Size) string {
	if s.Diameter == 0 {
		return sizes.None
	}
	return l.short(s.Diameter) + ": " + s.Uses()
}

// sizeGroups gathers round holes whose diameters agree within their uncertainties, or
// within a share of their size as holes of one drill differ; the smallest first. The bore
// is none of them, nor a hole of unknown uncertainty.
func (rep *Report) sizeGroups() [][]*Hole {
	var round []*Hole
	for i := range rep.Holes {
		h := &rep.Holes[i]
		if h.Kind == string(bolt.Round) && h.Diameter > 0 && h.Uncertainty.Diameter > 0 &&
			(rep.Bore == nil || rep.Bore.ID != h.ID) {
			round = append(round, h)
		}
	}
	slices.SortStableFunc(round, func(a, b *Hole) int { return cmp.Compare(a.Diameter, b.Diameter) })
	return gather(round, func(g []*Hole, h *Hole) bool {
		three := 1.5 * math.Hypot(h.Uncertainty.Diameter, g[0].Uncertainty.Diameter) // standard ones
		mean, _ := meanDiameter(g)
		return h.Diameter-mean <= max(three, sameDrill*h.Diameter)
	})
}

// meanDiameter of holes comes with its standard uncertainty, mm. What fusing or a rounded rim
// may have moved is alike in all holes, and no number of them takes it out.
func meanDiameter(holes []*Hole) (mean, u float64) {
	n := float64(len(holes))
	seen, unseen := 0.0, 0.0
	for _, h := range holes {
		mean += h.Diameter / n
		u, all := h.Uncertainty.DiameterUnseen/Coverage, h.Uncertainty.Diameter/Coverage
		seen, unseen = seen+(all*all-u*u)/n, unseen+u*u/n
	}
	return mean, math.Sqrt(max(0, seen)/n + unseen)
}

// nameSizes says of holes, bore and bolt circles which standard size was probably meant,
// equal holes together, and checks an assumed unit by them.
func (rep *Report) nameSizes(s *mesh.Scan) {
	var features []sizes.Feature
	for _, g := range rep.sizeGroups() {
		mean, u := meanDiameter(g)
		list := sizes.Candidates(sizes.Hole, mean, u)
		for _, h := range g {
			h.Sizes = slices.Clone(list)
			for k := range h.Sizes {
				if c := &h.Sizes[k]; c.Diameter > 0 {
					c.Off = (h.Diameter - c.Diameter) / max(h.Uncertainty.Diameter/Coverage, sizes.LeastU)
				}
			}
		}
		features = append(features, sizes.Feature{Kind: sizes.Hole, Size: mean, U: u})
	}
	named := func(kind sizes.Kind, size, expanded float64) []sizes.Candidate {
		if !(expanded > 0) {
			return nil
		}
		return sizes.Candidates(kind, size, expanded/Coverage)
	}
	for i := range rep.Holes {
		if h := &rep.Holes[i]; h.Width > 0 {
			h.Sizes = named(sizes.Hole, h.Width, h.Uncertainty.Width)
		}
	}
	if b := rep.Bore; b != nil && b.Uncertainty.Diameter > 0 {
		b.Sizes = named(sizes.Bore, b.Diameter, b.Uncertainty.Diameter)
		features = append(features,
			sizes.Feature{Kind: sizes.Bore, Size: b.Diameter, U: b.Uncertainty.Diameter / Coverage})
	}
	for i := range rep.BoltCircles {
		c := &rep.BoltCircles[i]
		c.Sizes = named(sizes.PitchDiameter, c.PitchDiameter, c.Uncertainty.PitchDiameter)
	}
	if s.Source.UnitSource == mesh.UnitAssumed && len(features) > 0 {
		rep.checkUnit(sizes.ReadUnits(features, s.Width()), s.Width())
	}
}

// checkUnit keeps what sizes say of the unit: that it is in doubt, or that another one
// makes standard sizes, too.
func (rep *Report) checkUnit(check sizes.UnitCheck, width float64) {
	c := &UnitCheck{Doubt: check.Doubt}
	keep := c.Doubt
	for _, r := range check.Readings {
		u := UnitReading{Unit: r.Unit, Probability: r.Probability, Width: width * r.Millimetres}
		for _, size := range r.Sizes {
			if size.Diameter > 0 {
				u.Sizes = append(u.Sizes, millimetre.sizeWords(size))
			}
		}
		keep = keep || r.Unit != "mm" && len(u.Sizes) > 0
		c.Readings = append(c.Readings, u)
	}
	if keep {
		if c.Doubt { // the width, of which the reader warns, speaks in the check, too
			rep.Scan.Warnings = slices.DeleteFunc(rep.Scan.Warnings,
				func(w string) bool { return strings.HasPrefix(w, unitHint) })
		}
		rep.Scan.UnitCheck = c
		rep.Scan.Warnings = append(rep.Scan.Warnings, c.sentence())
	}
}

// meant says which standard sizes the maker probably meant, a line for each distinct one. A
// plan that the part was judged by says it itself; while the unit is in doubt nobody can.
func (b *viewer) meant() {
	if b.rep.Verdict != "" || b.rep.UnitInDoubt() != nil {
		return
	}
	tab := &wording.Table{Head: []string{"<", "measured", "<size", "probability"}}
	var facts []string
	groups := b.rep.sizeGroups()
	add := func(what string, measured, expanded float64, list []sizes.Candidate) {
		if list == nil {
			return
		}
		best := sizes.Best(list)
		words := b.unit.sizeWords(best)
		if !best.Likely() {
			words = "not clear; perhaps " + words
		} else if strings.Contains(what, "hole") {
			fact := strings.TrimPrefix(what, "hole ")
			if len(groups) == 1 {
				fact = "hole size"
			}
			if best.Diameter == 0 {
				fact += " of"
			}
			facts = append(facts, fact+" "+words)
		}
		tab.Add(what, b.unit.number(measured, expanded).String(), words, chance(best.Probability))
	}
	for _, g := range groups {
		what := "hole " + g[0].ID
		if len(g) > 1 {
			what = wording.Things(len(g), "hole")
		}
		mean, u := meanDiameter(g)
		add(what, mean, Coverage*u, g[0].Sizes)
	}
	if k := b.rep.Bore; k != nil {
		add("bore "+k.ID, k.Diameter, k.Uncertainty.Diameter, k.Sizes)
	}
	for _, c := range b.rep.BoltCircles {
		add("bolt circle "+c.ID, c.PitchDiameter, c.Uncertainty.PitchDiameter, c.Sizes)
	}
	b.v.Sizes = append(facts, b.v.Sizes...)
	b.detail("Sizes that the maker probably meant, "+b.unit.name, tab)
}

// made says how holes are made where it is more than drilled through: what is alike once on
// the first screen, each hole in the details.
func (b *viewer) made() {
	type work struct {
		words   string // with one %s for each length
		lengths []float64
	}
	var all []work
	note := func(words string, lengths ...float64) { all = append(all, work{words, lengths}) }
	length := func(mm float64) string { return b.unit.number(mm, 0).String() }
	tab := &wording.Table{Head: []string{"<", "<through", "depth, " + b.unit.name, "<opens in",
		"<thread"}}
	for _, h := range b.rep.Holes {
		through, depth, opens, thread := "", "", "", ""
		if h.Through {
			through = "yes"
		}
		if h.Depth > 0 {
			through, depth = "no", length(h.Depth)
			note("blind, %s deep", h.Depth)
		}
		if c := h.Counterbore; c != nil {
			opens = fmt.Sprintf("counterbore %s, %s deep", length(c.Diameter), length(c.Depth))
			note("counterbored %s, %s deep", c.Diameter, c.Depth)
		}
		if c := h.Countersink; c != nil {
			opens = fmt.Sprintf("countersink %s at %.0f degrees", length(c.Diameter), c.AngleDeg)
			note(fmt.Sprintf("countersunk %%s at %.0f degrees", c.AngleDeg), c.Diameter)
		}
		if t := h.Thread; t != nil {
			thread = fmt.Sprintf("pitch %s, minor %s, major %s", length(t.Pitch),
				length(t.Minor), length(t.Major))
			note("tapped, pitch %s, major %s", t.Pitch, t.Major)
		}
		if opens != "" || thread != "" || depth != "" {
			tab.Add(h.ID, through, depth, opens, thread)
		}
	}
	var facts []string
	for _, g := range gather(all, func(g []work, w work) bool {
		alike := w.words == g[0].words
		for j := 0; alike && j < len(w.lengths); j++ {
			alike = math.Abs(w.lengths[j]-g[0].lengths[j]) < max(sameWork, sameDrill*w.lengths[j])
		}
		return alike
	}) {
		var lengths []any
		for j := range g[0].lengths {
			mean := 0.0
			for _, w := range g {
				mean += w.lengths[j] / float64(len(g))
			}
			lengths = append(lengths, length(mean))
		}
		facts = append(facts, wording.Things(len(g), "hole")+" "+fmt.Sprintf(g[0].words, lengths...))
	}
	b.v.Sizes = append(facts, b.v.Sizes...)
	var text []string
	if slices.ContainsFunc(b.rep.Holes, func(h Hole) bool { return h.Thread != nil }) {
		text = []string{"A thread is read from the ripple of the wall: a scan shows no thread. " +
			"Try it with a gauge."}
	}
	b.detail("How holes are made", tab, text...)
}
