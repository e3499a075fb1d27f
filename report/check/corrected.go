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
	add := func(id string, k *report.Corrected) {
		if changed {
			out[id] = k
		}
		changed = false
	}
	// The places of holes are those in the plan's frame.
	rep := c.rep.Judged(&report.Judgement{Frame: c.frame, BoltCircles: c.circled})
	for _, list := range [][]report.Hole{rep.Holes, rep.Studs} {
		for i := range list {
			h, k := &list[i], &report.Corrected{}
			if h.Diameter > 0 {
				size(c.diameterOf(h), &k.Diameter, &k.Uncertainty.Diameter)
			} else {
				size(scanned{value: h.Width, expanded: h.Uncertainty.Width, coats: 2}, &k.Width,
					&k.Uncertainty.Width)
				size(scanned{value: h.Length, expanded: h.Uncertainty.Length, coats: 2},
					&k.Length, &k.Uncertainty.Length)
			}
			if h.XY != nil {
				r := math.Hypot(h.XY[0], h.XY[1])
				far := r
				size(scanned{value: r, expanded: h.Uncertainty.XY}, &far, &k.Uncertainty.XY)
				k.XY = &[2]float64{h.XY[0] * c.lengths.factor, h.XY[1] * c.lengths.factor}
			}
			add(h.ID, k)
		}
	}
	for i := range rep.Cylinders {
		k := &report.Corrected{}
		size(c.diameterOf(&rep.Cylinders[i]), &k.Diameter, &k.Uncertainty.Diameter)
		add(rep.Cylinders[i].ID, k)
	}
	for i := range rep.BoltCircles {
		k := &report.Corrected{}
		size(pitchOf(&rep.BoltCircles[i]), &k.PitchDiameter, &k.Uncertainty.PitchDiameter)
		add(rep.BoltCircles[i].ID, k)
	}
	return out
}
