package check

import (
	"math"

	"spotface/report"
)

// corrected returns by id the sizes of what the scan shows as the plan corrects them (coat,
// temperature, scale) or makes them less sure (the scanner's length error), those that no
// band judges too, so that one bore has one figure.
func (c *checker) corrected() map[string]*report.Corrected {
	out := make(map[string]*report.Corrected)
	changed := false
	size := func(m scanned, v, u *float64) {
		y, src := c.lengths.correct(m)
		if *v = y; src != nil {
			*u = src.combined().Expanded()
		}
		const digits = 1e-9 // what adding up a budget may change
		changed = changed || math.Abs(y-m.value) > digits || math.Abs(*u-m.expanded) > digits
	}
	add := func(of *seen, h *report.Hole) {
		k := &report.Corrected{}
		switch {
		case of.circle != nil:
			size(of.size, &k.PitchDiameter, &k.Uncertainty.PitchDiameter)
		case of.size.value > 0:
			size(of.size, &k.Diameter, &k.Uncertainty.Diameter)
		default:
			size(scanned{value: h.Width, expanded: h.Uncertainty.Width, coats: 2}, &k.Width,
				&k.Uncertainty.Width)
			size(scanned{value: h.Length, expanded: h.Uncertainty.Length, coats: 2},
				&k.Length, &k.Uncertainty.Length)
		}
		if h != nil && h.XY != nil {
			far := math.Hypot(h.XY[0], h.XY[1])
			size(scanned{value: far, expanded: h.Uncertainty.XY}, &far, &k.Uncertainty.XY)
			k.XY = &[2]float64{h.XY[0] * c.lengths.factor, h.XY[1] * c.lengths.factor}
		}
		if changed {
			out[of.id] = k
		}
		changed = false
	}
	// The places of holes are those in the plan's frame.
	rep := c.rep.Judged(&report.Judgement{Frame: c.frame, BoltCircles: c.circled})
	for i := range rep.Holes {
		add(ofHole(&rep.Holes[i], 2), &rep.Holes[i])
	}
	for i := range rep.Studs {
		add(ofHole(&rep.Studs[i], -2), &rep.Studs[i])
	}
	for _, s := range c.kinds[cylinders].seen {
		add(s, nil)
	}
	for i := range rep.BoltCircles {
		add(ofCircle(&rep.BoltCircles[i]), nil)
	}
	return out
}
