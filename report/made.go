package report

import (
	"fmt"
	"math"
	"slices"

	"spotface/report/wording"
)

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
