package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// Line is the line through Point along the unit vector Direction.
type Line struct {
	Point     r3.Vector
	Direction r3.Vector
}

// Distance returns the distance of q from the line, mm.
func (s Line) Distance(q r3.Vector) float64 {
	return q.Sub(s.Point).Cross(s.Direction).Norm()
}

// Circle is a circle in space: centre, unit normal of its plane, radius.
type Circle struct {
	Centre r3.Vector
	Normal r3.Vector
	Radius float64
}

// Distance returns the distance in space of q from the circle, mm.
func (s Circle) Distance(q r3.Vector) float64 {
	d := q.Sub(s.Centre)
	h := d.Dot(s.Normal)
	return math.Hypot(d.Cross(s.Normal).Norm()-s.Radius, h)
}
