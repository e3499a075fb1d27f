package plan

import (
	"fmt"
	"slices"
)

// Mirrored returns the plan of the part that goes onto the planned one, looking at its own
// mating face: what is counter-clockwise on one is clockwise on the other. X stays where it
// is. A circle's last place becomes its first, so that part of a ring stays one.
func (p *Plan) Mirrored() *Plan {
	out := *p
	out.Mates = false
	turn := func(at *[]float64) {
		if *at != nil {
			*at = slices.Clone(*at)
			(*at)[1] = -(*at)[1]
		}
	}
	out.BoltCircles, out.Holes = slices.Clone(p.BoltCircles), slices.Clone(p.Holes)
	out.Planes, out.Cylinders = slices.Clone(p.Planes), slices.Clone(p.Cylinders)
	for i := range out.BoltCircles {
		c := &out.BoltCircles[i]
		turn(&c.At)
		c.Angles = slices.Clone(c.Angles)
		slices.Reverse(c.Angles)
		last := c.Angles[0]
		for k := range c.Angles {
			c.Angles[k] = last - c.Angles[k]
		}
	}
	for i := range out.Holes {
		turn(&out.Holes[i].At)
	}
	for i := range out.Planes {
		turn(&out.Planes[i].At)
		turn(&out.Planes[i].Normal)
	}
	for i := range out.Cylinders {
		turn(&out.Cylinders[i].At)
	}
	if circle, at, err := p.ClockedBy(); err == nil && circle >= 0 {
		c := &p.BoltCircles[circle]
		out.Frame.Clock = fmt.Sprintf("%s/%d", c.ID, len(c.Angles)-at)
	}
	out.Scanner.ReferenceLengths = slices.Clone(p.Scanner.ReferenceLengths)
	for i := range out.Scanner.ReferenceLengths {
		l := &out.Scanner.ReferenceLengths[i]
		l.Features = slices.Clone(l.Features)
		for k, f := range l.Features {
			l.Features[k] = p.mirroredPlace(f)
		}
	}
	return &out
}

// mirroredPlace is a feature's name in the mirrored plan: of a circle's place another one.
func (p *Plan) mirroredPlace(feature string) string {
	if circle, at := p.place(feature); at >= 0 {
		c := &p.BoltCircles[circle]
		return fmt.Sprintf("%s/%d", c.ID, len(c.Angles)-at)
	}
	return feature
}
