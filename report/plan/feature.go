package plan

import (
	"fmt"
	"slices"

	"spotface/report"
)

// Feature is what features of all kinds have in common. Its slices and pointers are those of
// the plan.
type Feature struct {
	Kind       string // "bolt circle", "hole", "plane" or "cylinder"
	Path       string // its place in the plan's file: "holes[0]"
	ID         string
	At, Normal []float64
	Size       *Size  // of the hole, of each hole of a circle, or of the cylinder
	SizeKey    string // of Size in the file
	Pitch      *Size  // pitch diameter of a bolt circle
	Side       report.Side
}

// Features lists the bolt circles, holes, planes and cylinders, in this order.
func (p *Plan) Features() []Feature {
	var out []Feature
	for i, c := range p.BoltCircles {
		out = append(out, Feature{Kind: "bolt circle", Path: entry("bolt_circles", i), ID: c.ID,
			At: c.At, Size: c.HoleDiameter, SizeKey: "hole_diameter", Pitch: c.PitchDiameter})
	}
	for i, h := range p.Holes {
		out = append(out, Feature{Kind: "hole", Path: entry("holes", i), ID: h.ID, At: h.At,
			Size: h.Diameter, SizeKey: "diameter"})
	}
	for i, f := range p.Planes {
		out = append(out, Feature{Kind: "plane", Path: entry("planes", i), ID: f.ID, At: f.At,
			Normal: f.Normal})
	}
	for i, c := range p.Cylinders {
		out = append(out, Feature{Kind: "cylinder", Path: entry("cylinders", i), ID: c.ID, At: c.At,
			Size: c.Diameter, SizeKey: "diameter", Side: c.Side})
	}
	return out
}

// Clone returns a copy whose features, sizes and places can be changed without changing p.
func (p *Plan) Clone() *Plan {
	size := func(s **Size) {
		if *s != nil {
			copied := **s
			*s = &copied
		}
	}
	q := *p
	q.BoltCircles, q.Holes = slices.Clone(p.BoltCircles), slices.Clone(p.Holes)
	q.Planes, q.Cylinders = slices.Clone(p.Planes), slices.Clone(p.Cylinders)
	for i := range q.BoltCircles {
		c := &q.BoltCircles[i]
		c.Angles, c.At = slices.Clone(c.Angles), slices.Clone(c.At)
		size(&c.PitchDiameter)
		size(&c.HoleDiameter)
	}
	for i := range q.Holes {
		q.Holes[i].At = slices.Clone(q.Holes[i].At)
		size(&q.Holes[i].Diameter)
	}
	for i := range q.Planes {
		q.Planes[i].At = slices.Clone(q.Planes[i].At)
		q.Planes[i].Normal = slices.Clone(q.Planes[i].Normal)
	}
	for i := range q.Cylinders {
		q.Cylinders[i].At = slices.Clone(q.Cylinders[i].At)
		size(&q.Cylinders[i].Diameter)
	}
	q.Scanner.ReferenceLengths = slices.Clone(p.Scanner.ReferenceLengths)
	for i := range q.Scanner.ReferenceLengths {
		l := &q.Scanner.ReferenceLengths[i]
		l.Features = slices.Clone(l.Features)
	}
	return &q
}

// Mirrored returns the plan of the part that goes onto the planned one, looking at its own
// mating face: what is counter-clockwise on one is clockwise on the other. X stays where it
// is. A circle's last place becomes its first, so that part of a ring stays one.
func (p *Plan) Mirrored() *Plan {
	out := p.Clone()
	out.Mates = false
	for _, f := range out.Features() {
		for _, v := range [][]float64{f.At, f.Normal} {
			if v != nil {
				v[1] = -v[1]
			}
		}
	}
	for _, c := range out.BoltCircles {
		slices.Reverse(c.Angles)
		last := c.Angles[0]
		for k := range c.Angles {
			c.Angles[k] = last - c.Angles[k]
		}
	}
	mirrored := func(circle, at int) string {
		c := &p.BoltCircles[circle]
		return fmt.Sprintf("%s/%d", c.ID, len(c.Angles)-at)
	}
	if circle, at, err := p.ClockedBy(); err == nil && circle >= 0 {
		out.Frame.Clock = mirrored(circle, at)
	}
	for _, l := range out.Scanner.ReferenceLengths {
		for k, f := range l.Features {
			if circle, at := p.place(f); at >= 0 {
				l.Features[k] = mirrored(circle, at)
			}
		}
	}
	return out
}
