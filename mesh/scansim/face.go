package scansim

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Shape names the surface that a face lies on.
type Shape string

// The shapes of faces.
const (
	Plane    Shape = "plane"
	Cylinder Shape = "cylinder"
	Cone     Shape = "cone"
	Sphere   Shape = "sphere"
	Torus    Shape = "torus"
	Freeform Shape = "freeform" // a plane with waves, see Waves
)

// Labels that name no face.
const (
	// LabelEdge marks a triangle or point near an edge, or across two faces.
	LabelEdge uint16 = 0
	// LabelOutlier marks an outlier of a cloud, or a junk island of a mesh.
	LabelOutlier uint16 = 65535
)

// Face is one surface of a part, known exactly.
type Face struct {
	ID    uint16 // from 1, in the order in which the part was built
	Role  string // "mounting", "bore", "hole:A3", ...
	Shape Shape
	// Point is on the plane, on the cylinder's axis, the cone's apex, the
	// sphere's centre.
	Point r3.Vector
	// Axis is the plane's normal out of the material, the cylinder's axis, the
	// cone's axis from its apex into it, the torus' axis; zero for a sphere. A
	// unit vector.
	Axis      r3.Vector
	Radius    float64  // cylinder and sphere; of a torus that of its circle of centres; mm
	Minor     float64  // radius of a torus' section, mm
	HalfAngle s1.Angle // cone
	// Internal says that the material is outside the cylinder, cone, sphere or
	// torus.
	Internal bool
}

// Signed returns the distance of q from the face's unbounded surface, mm,
// positive on the side without material.
func (f Face) Signed(q r3.Vector) float64 {
	d := f.raw(q)
	if f.Internal {
		return -d
	}
	return d
}

// Normal returns the unit normal of the face's unbounded surface nearest to q,
// out of the material.
func (f Face) Normal(q r3.Vector) r3.Vector {
	d := q.Sub(f.Point)
	var n r3.Vector
	switch f.Shape {
	case Plane, Freeform:
		n = f.Axis
	case Sphere:
		n = d.Normalize()
	case Torus:
		h := d.Dot(f.Axis)
		w := d.Sub(f.Axis.Mul(h))
		n = w.Sub(w.Normalize().Mul(f.Radius)).Add(f.Axis.Mul(h)).Normalize()
	default:
		n = d.Sub(f.Axis.Mul(d.Dot(f.Axis))).Normalize()
		if f.Shape == Cone {
			sin, cos := math.Sincos(f.HalfAngle.Radians())
			n = n.Mul(cos).Sub(f.Axis.Mul(sin))
		}
	}
	if f.Internal {
		return n.Mul(-1)
	}
	return n
}

// raw is the distance, positive outside the surface.
func (f *Face) raw(q r3.Vector) float64 {
	x, y, z := q.X-f.Point.X, q.Y-f.Point.Y, q.Z-f.Point.Z
	a := f.Axis
	switch f.Shape {
	case Plane, Freeform:
		return x*a.X + y*a.Y + z*a.Z
	case Sphere:
		return math.Sqrt(x*x+y*y+z*z) - f.Radius
	}
	// w = q - (q·a)a, the part of q across the axis; h = q·a along it.
	h := x*a.X + y*a.Y + z*a.Z
	w := math.Sqrt(max(0, x*x+y*y+z*z-h*h))
	switch f.Shape {
	case Cone:
		sin, cos := math.Sincos(f.HalfAngle.Radians())
		return w*cos - h*sin
	case Torus:
		return math.Hypot(w-f.Radius, h) - f.Minor
	}
	return w - f.Radius
}

// moved returns the face carried by p.
func (f Face) moved(p Pose) Face {
	f.Point = p.Apply(f.Point)
	f.Axis = p.Turn(f.Axis)
	return f
}
