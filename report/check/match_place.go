package check

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/report"
	"spotface/report/plan"
)

// nearestHole returns the hole like the planned one that lies nearest its
// planned place in the frame, and how far off, mm; -1 and infinity where none
// of that size is left. taken, if not nil, are out of the question.
func (m *match) nearestHole(f *report.Frame, p *plan.Hole, taken []bool) (int, float64) {
	best, least := -1, math.Inf(1)
	for i := range m.rep.Holes {
		h := &m.rep.Holes[i]
		if taken != nil && taken[i] {
			continue
		}
		if _, ok := near(h.Diameter, p.Diameter); !ok {
			continue
		}
		q := f.Point(h.Centre)
		if d := math.Hypot(q[0]-p.At[0], q[1]-p.At[1]); d < least {
			best, least = i, d
		}
	}
	return best, least
}

// nearestCylinder is nearestHole for a cylinder: the distance is that of its
// axis from the place, which lies on the face where it has but x and y.
func (m *match) nearestCylinder(f *report.Frame, p *plan.Cylinder, taken []bool) (int, float64) {
	best, least := -1, math.Inf(1)
	at := r3.Vector{X: p.At[0], Y: p.At[1]}
	if len(p.At) == 3 {
		at.Z = p.At[2]
	}
	for i := range m.rep.Cylinders {
		c := &m.rep.Cylinders[i]
		if (taken != nil && taken[i]) || (p.Side != "" && p.Side != c.Side) {
			continue
		}
		if _, ok := near(c.Diameter, p.Diameter); !ok {
			continue
		}
		if d := at.Sub(f.Point(c.Point).R3()).Cross(f.Direction(c.Axis).R3()).Norm(); d < least {
			best, least = i, d
		}
	}
	return best, least
}

// nearestPlane is nearestHole for a plane: of those that face the planned way
// within 5 degrees the one whose distance from the place, perpendicular to it, is
// least; equal ones by the distance of their middle.
func (m *match) nearestPlane(f *report.Frame, p *plan.Plane, taken []bool) (int, float64) {
	best, least := -1, math.Inf(1)
	at := r3.Vector{X: p.At[0], Y: p.At[1], Z: p.At[2]}
	cost := math.Inf(1)
	for i := range m.rep.Planes {
		pl := &m.rep.Planes[i]
		n := f.Direction(pl.Normal).R3()
		if taken != nil && taken[i] {
			continue
		}
		if p.Normal != nil && n.Dot(r3.Vector{X: p.Normal[0], Y: p.Normal[1], Z: p.Normal[2]}) < math.Cos(5*math.Pi/180) {
			continue
		}
		off := at.Sub(f.Point(pl.Point).R3())
		d := math.Abs(off.Dot(n))
		// The middle of a face moves with what was scanned of it: it counts a
		// fiftieth.
		if c := d + off.Norm()/50; c < cost {
			best, least, cost = i, d, c
		}
	}
	return best, least
}

// within reports whether a feature found at distance d from its planned place
// may be taken for it.
func within(d float64, at []float64) bool {
	r := 0.0
	for _, v := range at {
		r = math.Hypot(r, v)
	}
	return d <= max(atReach, atShare*r)
}

// matchHoles gives each planned single hole the hole at its place, or where it
// has none the one of nearest size outside the matched circles.
func (m *match) matchHoles() {
	taken := make([]bool, len(m.rep.Holes))
	for _, c := range m.circles {
		for at := range c.place {
			id := c.hole(m.rep, at)
			for i := range m.rep.Holes {
				if id != "" && m.rep.Holes[i].ID == id {
					taken[i] = true
				}
			}
		}
	}
	m.holes = make([]int, len(m.plan.Holes))
	for pass := range 2 { // those with a place choose first
		for i := range m.plan.Holes {
			p := &m.plan.Holes[i]
			if (pass == 0) != (p.At != nil && m.frame != nil) {
				continue
			}
			m.holes[i] = -1
			if pass == 0 {
				if j, d := m.nearestHole(m.frame, p, taken); j >= 0 && within(d, p.At) {
					m.holes[i] = j
				}
			} else if p.Diameter != nil {
				m.holes[i] = m.bySize("hole", p.ID, p.Diameter, len(m.rep.Holes), func(j int) (string, float64, bool) {
					h := &m.rep.Holes[j]
					return h.ID, h.Diameter, !taken[j] && h.Diameter > 0
				})
			}
			if j := m.holes[i]; j >= 0 {
				taken[j] = true
			}
		}
	}
}

// bySize returns the one of n features whose diameter is nearest the nominal;
// the first of equals, with a note where another is as near.
func (m *match) bySize(kind, id string, s *plan.Size, n int, get func(int) (string, float64, bool)) int {
	best, least, second := -1, math.Inf(1), math.Inf(1)
	var name, other string
	for j := range n {
		label, dia, free := get(j)
		if !free {
			continue
		}
		d, ok := near(dia, s)
		switch {
		case !ok:
		case d < least:
			second, other = least, name
			best, least, name = j, d, label
		case d < second:
			second, other = d, label
		}
	}
	if best >= 0 && second-least < 0.1 {
		m.note("The plan's %s %s may be %s or %s of the scan, alike in size; %s is taken. Its place (at) in the plan would tell.", kind, id, name, other, name)
	}
	return best
}

// matchCylinders gives each planned cylinder the one on the frame's axis if it is
// that, else the one at its place, else the one of nearest size that is no
// hole's wall.
func (m *match) matchCylinders() {
	taken := make([]bool, len(m.rep.Cylinders))
	m.cylinders = make([]int, len(m.plan.Cylinders))
	for i := range m.cylinders {
		m.cylinders[i] = -1
	}
	if m.frame != nil {
		for i := range m.plan.Cylinders {
			p := &m.plan.Cylinders[i]
			for j := range m.rep.Cylinders {
				c := &m.rep.Cylinders[j]
				_, ok := near(c.Diameter, p.Diameter)
				if p.ID == m.plan.Frame.Axis && c.ID == m.frame.Axis && ok && (p.Side == "" || p.Side == c.Side) {
					m.cylinders[i], taken[j] = j, true
				}
			}
		}
	}
	wall := make(map[string]bool)
	for _, h := range m.rep.Holes {
		for _, id := range append([]string{h.Wall}, h.EndWalls...) {
			wall[id] = true
		}
	}
	for pass := range 2 {
		for i := range m.plan.Cylinders {
			p := &m.plan.Cylinders[i]
			if m.cylinders[i] >= 0 || (pass == 0) != (p.At != nil && m.frame != nil) {
				continue
			}
			if pass == 0 {
				if j, d := m.nearestCylinder(m.frame, p, taken); j >= 0 && within(d, p.At) {
					m.cylinders[i] = j
				}
			} else if p.Diameter != nil {
				m.cylinders[i] = m.bySize("cylinder", p.ID, p.Diameter, len(m.rep.Cylinders), func(j int) (string, float64, bool) {
					c := &m.rep.Cylinders[j]
					return c.ID, c.Diameter, !taken[j] && !wall[c.ID] && (p.Side == "" || p.Side == c.Side)
				})
			}
			if j := m.cylinders[i]; j >= 0 {
				taken[j] = true
			}
		}
	}
}

// matchPlanes gives the frame's face the main circle's face, each other plane the
// one at its place, and those without a place the rest in order of size.
func (m *match) matchPlanes() {
	taken := make([]bool, len(m.rep.Planes))
	m.planes = make([]int, len(m.plan.Planes))
	take := func(i, j int) {
		m.planes[i] = j
		if j >= 0 {
			taken[j] = true
		}
	}
	face := m.plan.Frame.Face
	if face == "" && len(m.plan.Planes) > 0 && m.plan.Planes[0].At == nil {
		face = m.plan.Planes[0].ID // the first plane of a plan that names no face
	}
	for i, p := range m.plan.Planes {
		m.planes[i] = -1
		if m.frame == nil || p.ID != face {
			continue
		}
		for j := range m.rep.Planes {
			if m.rep.Planes[j].ID == m.frame.Face {
				take(i, j)
			}
		}
	}
	for i := range m.plan.Planes {
		p := &m.plan.Planes[i]
		if m.planes[i] < 0 && p.At != nil && m.frame != nil {
			if j, d := m.nearestPlane(m.frame, p, taken); j >= 0 && within(d, nil) {
				take(i, j)
			}
		}
	}
	for i, p := range m.plan.Planes {
		if m.planes[i] >= 0 || (p.At != nil && m.frame != nil) {
			continue
		}
		for j := range m.rep.Planes {
			if !taken[j] {
				take(i, j)
				m.note("The plan's plane %s has no place (at); the scan's largest plane left, %s, is taken for it.", p.ID, m.rep.Planes[j].ID)
				break
			}
		}
	}
}
