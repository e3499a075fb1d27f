package report

import (
	"fmt"
	"math"

	"spotface/report/wording"
)

// made says how holes are made where it is more than drilled through: what is alike once on
// the first screen, each hole in the details.
func (b *viewer) made() {
	type work struct {
		words   string // with one %s for each length
		lengths []float64
		holes   int
	}
	var all []work
	note := func(words string, lengths ...float64) {
		for i := range all {
			w := &all[i]
			alike := w.words == words
			for j, l := range lengths {
				alike = alike && math.Abs(w.lengths[j]-l) < max(sameWork, sameDrill*l)
			}
			if alike {
				for j, l := range lengths { // the mean
					w.lengths[j] += (l - w.lengths[j]) / float64(w.holes+1)
				}
				w.holes++
				return
			}
		}
		all = append(all, work{words, lengths, 1})
	}
	length := func(mm float64) string { return b.unit.number(mm, 0).String() }
	tab := &wording.Table{Head: []string{"<", "<through", "depth, " + b.unit.name, "<opens in", "<thread"}}
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
			thread = fmt.Sprintf("pitch %s, minor %s, major %s", length(t.Pitch), length(t.Minor), length(t.Major))
			note("tapped, pitch %s, major %s", t.Pitch, t.Major)
		}
		if opens != "" || thread != "" || depth != "" {
			tab.Add(h.ID, through, depth, opens, thread)
		}
	}
	var facts []string
	for _, w := range all {
		var lengths []any
		for _, l := range w.lengths {
			lengths = append(lengths, length(l))
		}
		facts = append(facts, wording.Things(w.holes, "hole")+" "+fmt.Sprintf(w.words, lengths...))
	}
	b.v.Sizes = append(facts, b.v.Sizes...)
	var text []string
	for _, h := range b.rep.Holes {
		if h.Thread != nil {
			text = []string{"A thread is read from the ripple of the wall: a scan shows no thread. Try it with a gauge."}
			break
		}
	}
	b.detail("How holes are made", tab, text...)
}
