package scansim

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Solid is a body bounded by faces: a half-space, an endless cylinder, a cone,
// a ball, or a combination of solids. Inside is negative. A Solid is not
// changed once made; one Solid used twice in a part is one face.
type Solid struct {
	op   op
	sign float64 // of a leaf: -1 where it was subtracted
	leaf *leaf
	kids []*Solid
	// slack bounds how far form takes values off ideal distances, either way;
	// slope bounds how much faster they change.
	slack, slope float64 // known within a part
}

type op uint8

const (
	opLeaf  op = iota
	opUnion    // min
	opMeet     // max
)

// leaf is a surface before its part gives it an id. cut surfaces get none:
// they only bound a tool where it is in the open.
type leaf struct {
	face Face
	cut  bool
	id   uint16  // within a part
	form *relief // nil where the face is ideal
}

func leafSolid(f Face) *Solid { return &Solid{op: opLeaf, sign: 1, leaf: &leaf{face: f}} }

// HalfSpace returns all that lies behind the plane through point with the
// given normal.
func HalfSpace(role string, point, normal r3.Vector) *Solid {
	return leafSolid(Face{Role: role, Shape: Plane, Point: point, Axis: normal.Normalize()})
}

// Rod returns the cylinder without ends about the axis through point.
func Rod(role string, point, axis r3.Vector, radius float64) *Solid {
	return leafSolid(Face{Role: role, Shape: Cylinder, Point: point, Axis: axis.Normalize(), Radius: radius})
}

// Spike returns the cone with the given apex, opening without end along axis.
func Spike(role string, apex, axis r3.Vector, half s1.Angle) *Solid {
	return leafSolid(Face{Role: role, Shape: Cone, Point: apex, Axis: axis.Normalize(), HalfAngle: half})
}

// Ball returns the ball about centre.
func Ball(role string, centre r3.Vector, radius float64) *Solid {
	return leafSolid(Face{Role: role, Shape: Sphere, Point: centre, Radius: radius})
}

// Ring returns the torus about the axis through centre: a circle of the given
// minor radius carried round at the given radius. Subtracted it cuts a round
// groove; added or subtracted at an edge it makes a fillet.
func Ring(role string, centre, axis r3.Vector, radius, minor float64) *Solid {
	return leafSolid(Face{Role: role, Shape: Torus, Point: centre, Axis: axis.Normalize(), Radius: radius, Minor: minor})
}

// Waves returns all that lies below a wavy surface: the plane through point,
// raised along normal by amplitude sin(2πu/length) sin(2πv/length). It is none
// of the shapes that a scan is searched for; its Face holds the plane.
func Waves(role string, point, normal r3.Vector, amplitude, length float64) *Solid {
	s := HalfSpace(role, point, normal)
	s.leaf.face.Shape = Freeform
	up := s.leaf.face.Axis
	e1 := up.Ortho()
	k, e2 := 2*math.Pi/length, up.Cross(e1)
	s.leaf.form = (*relief)(nil).with(Form{Kind: "waves", Max: amplitude, Slope: k * amplitude,
		Height: func(p, n r3.Vector) float64 {
			d := p.Sub(point)
			return n.Dot(up) * amplitude * math.Sin(k*d.Dot(e1)) * math.Sin(k*d.Dot(e2))
		}})
	return s
}

// cutPlane is a half-space whose plane never bounds the part.
func cutPlane(point, normal r3.Vector) *Solid {
	s := HalfSpace("", point, normal)
	s.leaf.cut = true
	return s
}

// Union returns what is in any of the solids.
func Union(s ...*Solid) *Solid { return combine(opUnion, s) }

// Meet returns what is in all of the solids.
func Meet(s ...*Solid) *Solid { return combine(opMeet, s) }

func combine(o op, kids []*Solid) *Solid {
	s := &Solid{op: o, kids: kids}
	for _, k := range kids {
		s.slack, s.slope = max(s.slack, k.slack), max(s.slope, k.slope)
	}
	return s
}

// Minus returns what is in s and in none of the tools.
func Minus(s *Solid, tools ...*Solid) *Solid {
	kids := []*Solid{s}
	for _, t := range tools {
		kids = append(kids, t.complement())
	}
	return Meet(kids...)
}

// complement returns all that is outside s.
func (s *Solid) complement() *Solid {
	c := &Solid{op: s.op, sign: -s.sign, leaf: s.leaf}
	switch s.op {
	case opUnion:
		c.op = opMeet
	case opMeet:
		c.op = opUnion
	}
	for _, k := range s.kids {
		c.kids = append(c.kids, k.complement())
	}
	return c
}

// Box returns the box from lo to hi. Its faces have the roles top (+z), bottom
// and side.
func Box(top, bottom, side string, lo, hi r3.Vector) *Solid {
	x, y, z := r3.Vector{X: 1}, r3.Vector{Y: 1}, r3.Vector{Z: 1}
	return Meet(
		HalfSpace(top, hi, z), HalfSpace(bottom, lo, z.Mul(-1)),
		HalfSpace(side, hi, x), HalfSpace(side, hi, y),
		HalfSpace(side, lo, x.Mul(-1)), HalfSpace(side, lo, y.Mul(-1)),
	)
}

// Disc returns the upright disc about centre, the middle of its upper face.
func Disc(top, bottom, side string, centre r3.Vector, radius, height float64) *Solid {
	z := r3.Vector{Z: 1}
	return Meet(
		HalfSpace(top, centre, z),
		HalfSpace(bottom, centre.Sub(z.Mul(height)), z.Mul(-1)),
		Rod(side, centre, z, radius),
	)
}

// Drill returns the tool for a round hole about axis through centre, which is
// where the hole opens; axis points out of the material. A depth of zero goes
// through. The tool ends 1 mm above the opening.
func Drill(role string, centre, axis r3.Vector, diameter, depth float64) *Solid {
	axis = axis.Normalize()
	kids := []*Solid{Rod(role, centre, axis, diameter/2), cutPlane(centre.Add(axis), axis)}
	if depth > 0 {
		kids = append(kids, HalfSpace(role+":floor", centre.Sub(axis.Mul(depth)), axis.Mul(-1)))
	}
	return Meet(kids...)
}

// Sink returns the tool for a countersink, or a chamfer, of the given diameter
// at the opening and full angle. It ends 1 mm above the opening.
func Sink(role string, centre, axis r3.Vector, diameter float64, angle s1.Angle) *Solid {
	axis = axis.Normalize()
	half := angle / 2
	apex := centre.Sub(axis.Mul(diameter / 2 / tan(half)))
	return Meet(Spike(role, apex, axis, half), cutPlane(centre.Add(axis), axis))
}

// Slot returns the tool for a slot with round ends: its width, its length over
// all, and the direction of its length; otherwise as Drill, through.
func Slot(role string, centre, axis, along r3.Vector, width, length float64) *Solid {
	axis = axis.Normalize()
	along = along.Sub(axis.Mul(along.Dot(axis))).Normalize()
	across := axis.Cross(along)
	half := along.Mul((length - width) / 2)
	a, b := centre.Sub(half), centre.Add(half)
	middle := Meet(
		HalfSpace(role+":side", centre.Add(across.Mul(width/2)), across),
		HalfSpace(role+":side", centre.Sub(across.Mul(width/2)), across.Mul(-1)),
		cutPlane(a, along.Mul(-1)), cutPlane(b, along),
	)
	return Meet(
		Union(middle, Rod(role+":end", a, axis, width/2), Rod(role+":end", b, axis, width/2)),
		cutPlane(centre.Add(axis), axis),
	)
}

// Pocket returns the upright tool for a rectangular opening, through, with
// rounded corners; along is the direction of its length. Its complement within
// a slab is a plate with rounded corners.
func Pocket(role string, centre, axis, along r3.Vector, length, width, corner float64) *Solid {
	axis = axis.Normalize()
	along = along.Sub(axis.Mul(along.Dot(axis))).Normalize()
	return Meet(roundedBar(role, centre, axis, along, length, width, corner), cutPlane(centre.Add(axis), axis))
}

// roundedBar is an endless bar of rectangular section with rounded corners.
func roundedBar(role string, centre, axis, along r3.Vector, length, width, corner float64) *Solid {
	across := axis.Cross(along)
	at := func(u, v float64) r3.Vector { return centre.Add(along.Mul(u)).Add(across.Mul(v)) }
	l, w := length/2, width/2
	wide := Meet(
		HalfSpace(role+":side", at(l, 0), along), HalfSpace(role+":side", at(-l, 0), along.Mul(-1)),
		cutPlane(at(0, w-corner), across), cutPlane(at(0, corner-w), across.Mul(-1)),
	)
	deep := Meet(
		HalfSpace(role+":side", at(0, w), across), HalfSpace(role+":side", at(0, -w), across.Mul(-1)),
		cutPlane(at(l-corner, 0), along), cutPlane(at(corner-l, 0), along.Mul(-1)),
	)
	kids := []*Solid{wide, deep}
	for _, s := range [][2]float64{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}} {
		kids = append(kids, Rod(role+":corner", at(s[0]*(l-corner), s[1]*(w-corner)), axis, corner))
	}
	return Union(kids...)
}
