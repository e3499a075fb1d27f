package check

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/report"
	"spotface/report/plan"
)

// seen is a feature of the scan: a hole, a cylinder, a plane or a bolt circle.
type seen struct {
	id          string
	point, axis report.Vec
	size        scanned // diameter, or pitch diameter
	side        report.Side
	bound       bool // its size alone does not make it the planned one
	taken       bool // for a planned one

	form   *float64 // flatness or cylindricity
	formU  float64
	noise  bool // the form may all be noise
	hole   *report.Hole
	circle *report.BoltCircle
	tilt   float64 // radius of the axis' or normal's 95 % cone, degrees
	off    float64 // and of the 95 % circle of a cylinder's point, or of a plane's offset, mm
	length float64
	plane  bool
}

// ofHole is a hole, or with -2 coats a stud.
func ofHole(h *report.Hole, coats float64) *seen {
	return &seen{id: h.ID, point: h.Centre, axis: h.Axis, bound: h.Diameter <= 0, hole: h,
		size: diameter(h.ID, h.Diameter, h.Uncertainty, coats)}
}

func ofCylinder(k *report.Cylinder) *seen {
	coats := 2.0
	if k.Side == report.External {
		coats = -2
	}
	return &seen{id: k.ID, point: k.Point, axis: k.Axis, side: k.Side,
		size: diameter(k.ID, k.Diameter, k.Uncertainty, coats), form: k.Cylindricity,
		formU: k.Uncertainty.Cylindricity, noise: k.FormOrNoise, tilt: k.Uncertainty.AxisDeg,
		off: k.Uncertainty.Point, length: k.Length}
}

func ofPlane(f *report.Plane) *seen {
	return &seen{id: f.ID, point: f.Point, axis: f.Normal, form: f.Flatness,
		formU: f.Uncertainty.Flatness, noise: f.FormOrNoise, tilt: f.Uncertainty.NormalDeg,
		off: f.Uncertainty.Offset, plane: true}
}

// ofCircle is a bolt circle. A coat does not move centres.
func ofCircle(k *report.BoltCircle) *seen {
	return &seen{id: k.ID, circle: k, size: scanned{
		feature: string(report.PitchDiameter) + " " + k.ID, value: k.PitchDiameter,
		expanded: k.Uncertainty.PitchDiameter}}
}

func diameter(id string, d float64, u report.Uncertainty, coats float64) scanned {
	return scanned{feature: string(report.Diameter) + " " + id, value: d, expanded: u.Diameter,
		unseen: u.DiameterUnseen, coats: coats}
}

// wanted is a planned feature, and what the scan has for it, nil for nothing.
type wanted struct {
	plan.Feature
	shown *seen
}

// kind is all features of one kind, of the plan and of the scan.
type kind struct {
	wanted []wanted
	seen   []*seen
}

const (
	holes = iota
	cylinders
	planes
)

// kindsOf lists the single features of plan and scan.
func kindsOf(p *plan.Plan, rep *report.Report) (k [3]kind) {
	wall := make(map[string]bool)
	for i := range rep.Holes {
		h := &rep.Holes[i]
		for _, id := range append([]string{h.Wall}, h.EndWalls...) {
			wall[id] = true
		}
		k[holes].seen = append(k[holes].seen, ofHole(h, 2))
	}
	for i := range rep.Cylinders {
		c := ofCylinder(&rep.Cylinders[i])
		c.bound = wall[c.id]
		k[cylinders].seen = append(k[cylinders].seen, c)
	}
	for i := range rep.Planes {
		k[planes].seen = append(k[planes].seen, ofPlane(&rep.Planes[i]))
	}
	for i, name := range []string{"hole", "cylinder", "plane"} {
		for _, f := range p.Features() {
			if f.Kind == name {
				k[i].wanted = append(k[i].wanted, wanted{Feature: f})
			}
		}
	}
	return k
}

// like reports whether a seen feature may be the wanted one by side and size.
func (w *wanted) like(s *seen) bool {
	_, ok := near(s.size.value, w.Size)
	return ok && (w.Side == "" || w.Side == s.side)
}

func vectorOf(v []float64) (out r3.Vector) {
	out.X, out.Y = v[0], v[1]
	if len(v) == 3 {
		out.Z = v[2]
	}
	return out
}

// nearest returns the feature like the wanted one nearest its place in the frame, and how far
// off, mm: of an axis, or of a face along its normal; nil and infinity where there is none. A
// plane faces the planned way within 5 degrees. free leaves out those that are taken.
func (k *kind) nearest(f *report.Frame, w *wanted, free bool) (best *seen, off float64) {
	off = math.Inf(1)
	least := math.Inf(1)
	for _, s := range k.seen {
		if free && s.taken || !w.like(s) {
			continue
		}
		axis := f.Direction(s.axis).R3()
		if w.Normal != nil && axis.Dot(vectorOf(w.Normal)) < math.Cos(5*math.Pi/180) {
			continue
		}
		from := vectorOf(w.At).Sub(f.Point(s.point).R3())
		d := from.Cross(axis).Norm()
		cost := d
		if w.Kind == "plane" {
			d = math.Abs(from.Dot(axis))
			cost = d + from.Norm()/50 // a face's middle moves with what was scanned of it
		}
		if cost < least {
			best, off, least = s, d, cost
		}
	}
	return best, off
}

// within reports whether a feature found at distance d from its planned place may be taken
// for it.
func (w *wanted) within(d float64) bool {
	if w.Kind == "plane" {
		return d <= atReach
	}
	return d <= max(atReach, atShare*vectorOf(w.At).Norm())
}

func (w *wanted) take(s *seen) {
	if w.shown = s; s != nil {
		s.taken = true
	}
}

// takeNamed gives the wanted feature of the frame the one that the scan's frame names.
func (m *match) takeNamed(k *kind, wantedID, seenID string) {
	i := slices.IndexFunc(k.wanted, func(w wanted) bool { return w.ID == wantedID })
	j := slices.IndexFunc(k.seen, func(s *seen) bool { return s.id == seenID })
	if m.frame != nil && i >= 0 && j >= 0 && k.wanted[i].like(k.seen[j]) {
		k.wanted[i].take(k.seen[j])
	}
}

// matchSingle gives each planned single feature one of the scan: that which the frame
// names, else the one at its place, else without a place the one of nearest size.
func (m *match) matchSingle() {
	for _, c := range m.circles {
		for _, s := range m.kinds[holes].seen {
			s.taken = s.taken || slices.Contains(c.there, s.id)
		}
	}
	if m.frame != nil {
		m.takeNamed(&m.kinds[cylinders], m.plan.Frame.Axis, m.frame.Axis)
		face := m.plan.Frame.Face
		if p := m.plan.Planes; face == "" && len(p) > 0 && p[0].At == nil {
			face = p[0].ID // the first plane of a plan that names no face
		}
		m.takeNamed(&m.kinds[planes], face, m.frame.Face)
	}
	for x := range m.kinds {
		k := &m.kinds[x]
		for _, placed := range []bool{true, false} { // those with a place choose first
			for i := range k.wanted {
				w := &k.wanted[i]
				switch {
				case w.shown != nil || placed != (w.At != nil && m.frame != nil):
				case !placed:
					w.take(m.bySize(k, w))
				default:
					if s, d := k.nearest(m.frame, w, true); w.within(d) {
						w.take(s)
					}
				}
			}
		}
	}
}

// bySize returns the free feature whose diameter is nearest the nominal; the first of
// equals, with a note where another is as near. Of planes it is the largest, the first.
func (m *match) bySize(k *kind, w *wanted) *seen {
	off := func(s *seen) float64 {
		d, _ := near(s.size.value, w.Size)
		return d
	}
	var free []*seen
	for _, s := range k.seen {
		if !s.taken && !s.bound && w.like(s) {
			free = append(free, s)
		}
	}
	slices.SortStableFunc(free, func(s, t *seen) int { return cmp.Compare(off(s), off(t)) })
	switch {
	case free == nil || w.Size == nil && w.Kind != "plane":
		return nil
	case w.Kind == "plane":
		m.note("The plan's plane %s has no place (at); the scan's largest plane left, %s, is "+
			"taken for it.", w.ID, free[0].id)
	case len(free) > 1 && off(free[1])-off(free[0]) < 0.1:
		m.note("The plan's %s %s may be %s or %s of the scan, alike in size; %s is taken. Its "+
			"place (at) in the plan would tell.", w.Kind, w.ID, free[0].id, free[1].id, free[0].id)
	}
	return free[0]
}
