package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Mirrored returns the plan of the part that goes onto the planned one, looking at its own
// mating face: what is counter-clockwise on one is clockwise on the other. X stays where it
// is. A circle's last place becomes its first, so that part of a ring stays one.
func (p *Plan) Mirrored() *Plan {
	out := *p
	out.Mates = false
	turned := func(at []float64) []float64 {
		if at == nil {
			return nil
		}
		at = slices.Clone(at)
		at[1] = -at[1]
		return at
	}
	out.BoltCircles = slices.Clone(p.BoltCircles)
	for i := range out.BoltCircles {
		c := &out.BoltCircles[i]
		c.At = turned(c.At)
		n := len(c.Angles)
		last := c.Angles[n-1]
		angles := make([]float64, n)
		for k, a := range c.Angles {
			angles[n-1-k] = last - a
		}
		c.Angles = angles
	}
	out.Holes = slices.Clone(p.Holes)
	for i := range out.Holes {
		out.Holes[i].At = turned(out.Holes[i].At)
	}
	out.Planes = slices.Clone(p.Planes)
	for i := range out.Planes {
		out.Planes[i].At, out.Planes[i].Normal = turned(out.Planes[i].At), turned(out.Planes[i].Normal)
	}
	out.Cylinders = slices.Clone(p.Cylinders)
	for i := range out.Cylinders {
		out.Cylinders[i].At = turned(out.Cylinders[i].At)
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
	id, place, _ := strings.Cut(feature, "/")
	for i := range p.BoltCircles {
		if at, err := strconv.Atoi(place); err == nil && p.BoltCircles[i].ID == id {
			return fmt.Sprintf("%s/%d", id, len(p.BoltCircles[i].Angles)+1-at)
		}
	}
	return feature
}
