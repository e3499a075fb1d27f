package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Plane is the set of points q with (q - Point)·Normal = 0. Normal is a unit
// vector.
type Plane struct {
	Point  r3.Vector
	Normal r3.Vector
}

// Signed returns the distance of q from the plane, mm, positive on the side
// that Normal points to.
func (s Plane) Signed(q r3.Vector) float64 { return q.Sub(s.Point).Dot(s.Normal) }

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

// Sphere has a centre and a radius.
type Sphere struct {
	Centre r3.Vector
	Radius float64
}

// Signed returns the distance of q from the sphere, mm, positive outside it.
func (s Sphere) Signed(q r3.Vector) float64 { return q.Sub(s.Centre).Norm() - s.Radius }

// Cylinder is a right circular cylinder without ends: a point on its axis, the
// unit direction of the axis, the radius.
type Cylinder struct {
	Point  r3.Vector
	Axis   r3.Vector
	Radius float64
}

// Signed returns the distance of q from the cylinder, mm, positive outside it.
func (s Cylinder) Signed(q r3.Vector) float64 {
	return q.Sub(s.Point).Cross(s.Axis).Norm() - s.Radius
}

// Cone is one nappe of a right circular cone: its apex, the unit direction of
// its axis from the apex into the cone, and the half angle between axis and
// surface.
type Cone struct {
	Apex      r3.Vector
	Axis      r3.Vector
	HalfAngle s1.Angle
}

// Signed returns the distance of q from the cone's surface, mm, positive
// outside it, measured square to the generator through q's half plane.
func (s Cone) Signed(q r3.Vector) float64 {
	d := q.Sub(s.Apex)
	h, w := d.Dot(s.Axis), d.Cross(s.Axis).Norm()
	sin, cos := math.Sincos(s.HalfAngle.Radians())
	return w*cos - h*sin
}

// Summary describes the residuals of a fit: signed distances of the points
// from the shape, mm: for a circle in space the distance in space, negative
// inside the circle; for a line in space without sign.
type Summary struct {
	N   int
	RMS float64 // root of the mean square, no correction for degrees of freedom
	Min float64
	Max float64
	// FormError is Max - Min; for a line in space twice the largest distance.
	FormError float64
	// Sigma is the point noise: root of the sum of squares over the degrees of
	// freedom. Zero where there are none.
	Sigma float64
}
