package check

import (
	"math"

	"spotface/report"
	"spotface/report/plan"
)

// circleMatch is a planned circle found in the scan.
type circleMatch struct {
	at    int    // in the report's circles; -1: not found
	turns []turn // that fit equally well, best first
	place []int  // for each planned angle the number of the hole in Clocking, -1: no hole there
	// for each planned angle without one the hole that lies there beside the ring, or ""
	other []string
	extra []string // holes of the ring without a place in the plan
}

// hole is the id of the hole at a planned place, or "". It holds until the circle
// is counted anew.
func (c *circleMatch) hole(rep *report.Report, at int) string {
	if c.at < 0 {
		return ""
	}
	if j := c.place[at]; j >= 0 {
		return rep.BoltCircles[c.at].Clocking[j].Hole
	}
	return c.other[at]
}

// take fixes the turn. A place that no hole of the ring fills may be filled by
// another one, of a size so wrong that it was not counted to the ring.
func (c *circleMatch) take(m *match, p *plan.Circle, t turn) {
	k := &m.rep.BoltCircles[c.at]
	c.place, c.other = t.place, make([]string, len(t.place))
	first := m.rep.Hole(k.Clocking[0].Hole)
	if first == nil {
		return
	}
	inRing := make(map[string]bool)
	for _, b := range m.rep.BoltCircles {
		for _, g := range b.Clocking {
			inRing[g.Hole] = true
		}
	}
	arm := first.Centre.R3().Sub(k.Centre.R3()).Normalize().Mul(k.PitchDiameter / 2)
	across := k.Axis.R3().Cross(arm)
	for i, a := range p.Angles {
		if t.place[i] >= 0 {
			continue
		}
		sin, cos := math.Sincos((a + t.zero - k.Clocking[0].AngleDeg) * math.Pi / 180)
		at := k.Centre.R3().Add(arm.Mul(cos)).Add(across.Mul(sin))
		reach := max(atReach, 0.02*k.PitchDiameter)
		for j := range m.rep.Holes {
			h := &m.rep.Holes[j]
			if d := h.Centre.R3().Distance(at); h.Face == k.Face && h.Diameter > 0 &&
				!inRing[h.ID] && d < reach {
				reach, c.other[i] = d, h.ID
			}
		}
	}
}

// choose takes, for a circle that does not clock the frame, the turn whose first
// hole is the first one counter-clockwise from the frame's X.
func (c *circleMatch) choose(m *match, i int) {
	p, k := &m.plan.BoltCircles[i], &m.rep.BoltCircles[c.at]
	if c.turns = turnsOf(p, k); len(c.turns) == 0 {
		c.at = -1
		return
	}
	best := 0
	if m.frame != nil {
		least := math.Inf(1)
		for j, t := range c.turns {
			if a := m.azimuth(k, t); a < least {
				best, least = j, a
			}
		}
	}
	c.take(m, p, c.turns[best])
}
