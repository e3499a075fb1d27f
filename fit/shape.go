package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/mesh/geom"
)

// Kind names the surfaces.
type Kind int

// Kinds of surface, in the order of preference between equals.
const (
	KindPlane Kind = iota
	KindCylinder
	KindSphere
	KindCone
)

var kinds = [...]struct {
	name   string
	params int
}{{"plane", 3}, {"cylinder", 5}, {"sphere", 4}, {"cone", 6}}

func (k Kind) String() string { return kinds[k].name }

// Params is the number of parameters that the kind has, which is the least
// number of points that it is fitted to.
func (k Kind) Params() int { return kinds[k].params }

// Shape is a surface: a Plane, Cylinder, Sphere or Cone.
type Shape interface {
	Kind() Kind
	// Distance returns the signed orthogonal distance of q, mm: positive on
	// the side that a plane's Normal points to, and outside a round surface.
	Distance(q r3.Vector) float64
	// NormalAt returns the unit gradient of Distance at q, which is the normal
	// of the surface at the foot of q. It is zero on an axis or in a centre.
	NormalAt(q r3.Vector) r3.Vector
	// Partials writes to row the derivatives of Distance at q by the local
	// parameters that the covariance of a fit is of (PlaneFit.Cov and the
	// others), Kind.Params of them, and returns Distance.
	Partials(q r3.Vector, row []float64) float64
	// Moved returns the shape with its local parameters changed by step.
	Moved(step []float64) Shape

	anchor() r3.Vector
}

// Plane is the set of points q with (q - Point)·Normal = 0. Normal is a unit
// vector.
type Plane struct {
	Point  r3.Vector
	Normal r3.Vector
}

// Kind is KindPlane.
func (s Plane) Kind() Kind { return KindPlane }

// Distance returns the distance of q from the plane, mm, positive on the side
// that Normal points to.
func (s Plane) Distance(q r3.Vector) float64 { return q.Sub(s.Point).Dot(s.Normal) }

// NormalAt returns Normal.
func (s Plane) NormalAt(r3.Vector) r3.Vector { return s.Normal }

// Partials are those of Shape, by shift along Normal and tilts of it:
//
//	d = (q - p)·n    ∂d/∂h = -1    ∂d/∂a = (q - p)·e1    ∂d/∂b = (q - p)·e2
func (s Plane) Partials(q r3.Vector, row []float64) float64 {
	e1, e2 := geom.Basis(s.Normal)
	v := q.Sub(s.Point)
	row[0], row[1], row[2] = -1, v.Dot(e1), v.Dot(e2)
	return v.Dot(s.Normal)
}

// Moved is that of Shape.
func (s Plane) Moved(d []float64) Shape {
	return Plane{s.Point.Add(s.Normal.Mul(d[0])), tilt(s.Normal, d[1], d[2])}
}

func (s Plane) anchor() r3.Vector { return s.Point }

// tilt turns the unit vector n by a and b, rad, toward the directions of its frame.
func tilt(n r3.Vector, a, b float64) r3.Vector {
	e1, e2 := geom.Basis(n)
	return geom.Unit(n.Add(e1.Mul(a)).Add(e2.Mul(b)))
}

// Sphere has a centre and a radius.
type Sphere struct {
	Centre r3.Vector
	Radius float64
}

// Kind is KindSphere.
func (s Sphere) Kind() Kind { return KindSphere }

// Distance returns the distance of q from the sphere, mm, positive outside it.
func (s Sphere) Distance(q r3.Vector) float64 { return q.Sub(s.Centre).Norm() - s.Radius }

// NormalAt returns the direction from the centre to q.
func (s Sphere) NormalAt(q r3.Vector) r3.Vector { return geom.Unit(q.Sub(s.Centre)) }

// Partials are those of Shape, by the centre's x, y, z and the radius.
func (s Sphere) Partials(q r3.Vector, row []float64) float64 {
	v := q.Sub(s.Centre)
	l := v.Norm()
	n := geom.Unit(v)
	row[0], row[1], row[2], row[3] = -n.X, -n.Y, -n.Z, -1
	return l - s.Radius
}

// Moved is that of Shape.
func (s Sphere) Moved(d []float64) Shape {
	return Sphere{s.Centre.Add(r3.Vector{X: d[0], Y: d[1], Z: d[2]}), s.Radius + d[3]}
}

func (s Sphere) anchor() r3.Vector { return s.Centre }

// Cylinder is a right circular cylinder without ends: a point on its axis, the
// unit direction of the axis, the radius.
type Cylinder struct {
	Point  r3.Vector
	Axis   r3.Vector
	Radius float64
}

// Kind is KindCylinder.
func (s Cylinder) Kind() Kind { return KindCylinder }

// Distance returns the distance of q from the cylinder, mm, positive outside it.
func (s Cylinder) Distance(q r3.Vector) float64 {
	return q.Sub(s.Point).Cross(s.Axis).Norm() - s.Radius
}

// NormalAt returns the direction from the axis to q.
func (s Cylinder) NormalAt(q r3.Vector) r3.Vector {
	_, _, n := polar(q.Sub(s.Point), s.Axis)
	return n
}

// Partials are those of Shape, by shifts of the axis at Point, its tilts there,
// and the radius. With h the height of q over Point and n the normal:
//
//	∂d/∂u = -n·e1    ∂d/∂v = -n·e2    ∂d/∂a = h ∂d/∂u    ∂d/∂b = h ∂d/∂v    ∂d/∂r = -1
func (s Cylinder) Partials(q r3.Vector, row []float64) float64 {
	e1, e2 := geom.Basis(s.Axis)
	h, l, n := polar(q.Sub(s.Point), s.Axis)
	u, v := -n.Dot(e1), -n.Dot(e2)
	row[0], row[1], row[2], row[3], row[4] = u, v, h*u, h*v, -1
	return l - s.Radius
}

// Moved is that of Shape.
func (s Cylinder) Moved(d []float64) Shape {
	e1, e2 := geom.Basis(s.Axis)
	return Cylinder{s.Point.Add(e1.Mul(d[0])).Add(e2.Mul(d[1])), tilt(s.Axis, d[2], d[3]), s.Radius + d[4]}
}

func (s Cylinder) anchor() r3.Vector { return s.Point }

// polar returns the height h of v along the unit vector w, its distance l from
// that axis, and the direction n from the axis to it, zero on the axis.
func polar(v, w r3.Vector) (h, l float64, n r3.Vector) {
	h = v.Dot(w)
	n = v.Sub(w.Mul(h))
	l = n.Norm()
	return h, l, geom.Unit(n)
}

// Cone is one nappe of a right circular cone: its apex, the unit direction of
// its axis from the apex into the cone, and the half angle between axis and
// surface.
type Cone struct {
	Apex      r3.Vector
	Axis      r3.Vector
	HalfAngle s1.Angle
}

// Kind is KindCone.
func (s Cone) Kind() Kind { return KindCone }

// Distance returns the distance of q from the cone's surface, mm, positive
// outside it, measured perpendicular to the generator in q's half plane.
func (s Cone) Distance(q r3.Vector) float64 {
	d := q.Sub(s.Apex)
	h, l := d.Dot(s.Axis), d.Cross(s.Axis).Norm()
	sin, cos := math.Sincos(s.HalfAngle.Radians())
	return l*cos - h*sin
}

// NormalAt is that of Shape.
func (s Cone) NormalAt(q r3.Vector) r3.Vector {
	_, l, n := polar(q.Sub(s.Apex), s.Axis)
	if l == 0 {
		return n
	}
	sin, cos := math.Sincos(s.HalfAngle.Radians())
	return n.Mul(cos).Sub(s.Axis.Mul(sin))
}

// Partials are those of Shape, by shifts of the apex across and along the axis,
// tilts of the axis about the apex, and the half angle φ. With h the height over
// the apex, l the distance from the axis, n the direction from it and
// s = l sin φ + h cos φ the length along the generator:
//
//	d = l cos φ - h sin φ    ∂d/∂φ = -s    ∂d/∂w = sin φ
//	∂d/∂u = -n·e1 cos φ    ∂d/∂a = -n·e1 s    and with e2 for v and b
func (s Cone) Partials(q r3.Vector, row []float64) float64 {
	e1, e2 := geom.Basis(s.Axis)
	h, l, n := polar(q.Sub(s.Apex), s.Axis)
	sin, cos := math.Sincos(s.HalfAngle.Radians())
	g := l*sin + h*cos
	c1, c2 := n.Dot(e1), n.Dot(e2)
	row[0], row[1], row[2], row[3], row[4], row[5] = -c1*cos, -c2*cos, sin, -c1*g, -c2*g, -g
	return l*cos - h*sin
}

// Moved is that of Shape.
func (s Cone) Moved(d []float64) Shape {
	e1, e2 := geom.Basis(s.Axis)
	apex := s.Apex.Add(e1.Mul(d[0])).Add(e2.Mul(d[1])).Add(s.Axis.Mul(d[2]))
	return Cone{apex, tilt(s.Axis, d[3], d[4]), s.HalfAngle + s1.Angle(d[5])}
}

func (s Cone) anchor() r3.Vector { return s.Apex }

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
