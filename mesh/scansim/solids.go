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
	id   uint16 // within a part
	form *Form  // nil where the face is ideal
}

func leafSolid(f Face) *Solid {
	f.Axis = f.Axis.Normalize()
	return &Solid{op: opLeaf, sign: 1, leaf: &leaf{face: f}}
}

// HalfSpace returns all that lies behind the plane through point with the
// given normal.
func HalfSpace(role string, point, normal r3.Vector) *Solid {
	return leafSolid(Face{Role: role, Shape: Plane, Point: point, Axis: normal})
}

// Rod returns the cylinder without ends about the axis through point.
func Rod(role string, point, axis r3.Vector, radius float64) *Solid {
	return leafSolid(Face{Role: role, Shape: Cylinder, Point: point, Axis: axis, Radius: radius})
}

// Spike returns the cone with the given apex, opening without end along axis.
func Spike(role string, apex, axis r3.Vector, half s1.Angle) *Solid {
	return leafSolid(Face{Role: role, Shape: Cone, Point: apex, Axis: axis, HalfAngle: half})
}

// Ball returns the ball about centre.
func Ball(role string, centre r3.Vector, radius float64) *Solid {
	return leafSolid(Face{Role: role, Shape: Sphere, Point: centre, Radius: radius})
}

// Ring returns the torus about the axis through centre: a circle of the given
// minor radius carried round at the given radius. Subtracted it cuts a round
// groove; added or subtracted at an edge it makes a fillet.
func Ring(role string, centre, axis r3.Vector, radius, minor float64) *Solid {
	return leafSolid(Face{Role: role, Shape: Torus, Point: centre, Axis: axis,
		Radius: radius, Minor: minor})
}

// up points out of the mounting face of a part.
var up = r3.Vector{Z: 1}

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
	x, y := r3.Vector{X: 1}, r3.Vector{Y: 1}
	return Meet(
		HalfSpace(top, hi, up), HalfSpace(bottom, lo, up.Mul(-1)),
		HalfSpace(side, hi, x), HalfSpace(side, hi, y),
		HalfSpace(side, lo, x.Mul(-1)), HalfSpace(side, lo, y.Mul(-1)),
	)
}

// Disc returns the upright disc about centre, the middle of its upper face.
func Disc(top, bottom, side string, centre r3.Vector, radius, height float64) *Solid {
	return Meet(HalfSpace(top, centre, up),
		HalfSpace(bottom, centre.Sub(up.Mul(height)), up.Mul(-1)), Rod(side, centre, up, radius))
}

// Drill returns the tool for a round hole about axis through centre, which is
// where the hole opens; axis points out of the material. A depth of zero goes
// through. The tool ends 1 mm above the opening.
func Drill(role string, centre, axis r3.Vector, diameter, depth float64) *Solid {
	return drill(role, centre, axis, diameter, depth, 1)
}

// drill is Drill that ends that much over the opening.
func drill(role string, centre, axis r3.Vector, diameter, depth, over float64) *Solid {
	axis = axis.Normalize()
	kids := []*Solid{Rod(role, centre, axis, diameter/2), cutPlane(centre.Add(axis.Mul(over)), axis)}
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
	return Meet(roundedBar(role, centre, axis, along, length, width, corner),
		cutPlane(centre.Add(axis), axis))
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

// Shape names the surface that a face lies on.
type Shape string

// The shapes of faces.
const (
	Plane    Shape = "plane"
	Cylinder Shape = "cylinder"
	Cone     Shape = "cone"
	Sphere   Shape = "sphere"
	Torus    Shape = "torus"
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
	case Plane:
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
	// h = q·a along the axis; w = |q - (q·a)a| across it.
	h := x*f.Axis.X + y*f.Axis.Y + z*f.Axis.Z
	if f.Shape == Plane {
		return h
	}
	sin, cos := f.slant()
	return f.section(h, math.Sqrt(max(0, x*x+y*y+z*z-h*h)), sin, cos)
}

// slant returns sine and cosine of the angle between the surface and its axis.
func (f *Face) slant() (sin, cos float64) {
	if f.Shape == Cone {
		return math.Sincos(f.HalfAngle.Radians())
	}
	return 0, 1
}

// section is the distance of a point at h along the axis and w across it from a round
// surface. A sphere has no axis: its h is zero.
func (f *Face) section(h, w, sin, cos float64) float64 {
	if f.Shape == Torus {
		return math.Hypot(w-f.Radius, h) - f.Minor
	}
	return w*cos - h*sin - f.Radius
}

// moved returns the face carried by p.
func (f Face) moved(p Pose) Face {
	f.Point = p.Apply(f.Point)
	f.Axis = p.Turn(f.Axis)
	return f
}

func tan(a s1.Angle) float64 { return math.Tan(a.Radians()) }

// at returns a signed distance of q: exact near a face, never larger in size
// than the true distance elsewhere, but for form; negative inside.
func (s *Solid) at(q r3.Vector) float64 {
	v, _ := s.active(q)
	return v
}

// active returns the distance as at does, and the leaf that it comes from.
func (s *Solid) active(q r3.Vector) (float64, *Solid) {
	if s.op == opLeaf {
		return s.value(q), s
	}
	v, from := s.kids[0].active(q)
	for _, k := range s.kids[1:] {
		if d, f := k.active(q); d < v == (s.op == opUnion) && d != v {
			v, from = d, f
		}
	}
	return v, from
}

// prune returns s less what cannot decide its value within reach of q, and the
// value at q. A distance changes by at most reach there, and form by the slack,
// so a branch more than twice that behind the leading one never leads.
func (s *Solid) prune(q r3.Vector, reach float64) (*Solid, float64) {
	if s.op == opLeaf {
		return s, s.value(q)
	}
	kids := make([]*Solid, len(s.kids))
	var room [16]float64
	vals := append(room[:0], make([]float64, len(s.kids))...)
	lead := math.Inf(1)
	dir := 1.0 // so that dir*value leads where it is least
	if s.op == opMeet {
		dir = -1
	}
	for i, k := range s.kids {
		kids[i], vals[i] = k.prune(q, reach)
		lead = min(lead, dir*vals[i])
	}
	n := 0
	for i, k := range kids {
		if dir*vals[i] <= lead+2*(reach+s.slack) {
			kids[n] = k
			n++
		}
	}
	if n == 1 {
		return kids[0], dir * lead
	}
	return combine(s.op, kids[:n]), dir * lead
}

// cubes visits the cubes of a grid from at to end, exclusive, within the one of the given
// size, each with what can decide the value of s within reach of its middle. Parts that
// the surface does not pass are left out unless all is set.
func (s *Solid) cubes(at, end [3]int, size int, all bool, middle func(c r3.Vector) r3.Vector,
	reach func(half float64) float64, visit func(at [3]int, s *Solid)) {
	if at[0] >= end[0] || at[1] >= end[1] || at[2] >= end[2] {
		return
	}
	half := float64(size) / 2
	c := r3.Vector{X: float64(at[0]) + half, Y: float64(at[1]) + half, Z: float64(at[2]) + half}
	far := reach(half)
	kept, v := s.prune(middle(c), far)
	if !all && math.Abs(v) > far+s.slack {
		return
	}
	if size == 1 {
		visit(at, kept)
		return
	}
	size /= 2
	for o := range 8 {
		kept.cubes([3]int{at[0] + o&1*size, at[1] + o>>1&1*size, at[2] + o>>2&1*size}, end, size, all,
			middle, reach, visit)
	}
}

// fill writes the values of s at the points p + i*step, from first on, into out, which is
// no longer than fillSize.
func (s *Solid) fill(p, step r3.Vector, first int, out []float64) {
	if s.op == opLeaf {
		s.leaf.face.fill(s.sign, p, step, first, out)
		if s.leaf.form != nil {
			s.fillForm(p, step, first, out)
		}
		return
	}
	s.kids[0].fill(p, step, first, out)
	var room [fillSize]float64
	row := room[:len(out)]
	for _, k := range s.kids[1:] {
		k.fill(p, step, first, row)
		for i, v := range row {
			if v < out[i] == (s.op == opUnion) {
				out[i] = v
			}
		}
	}
}

// leaves visits the leaves of the tree.
func (s *Solid) leaves(visit func(*Solid)) {
	if s.op == opLeaf {
		visit(s)
	}
	for _, k := range s.kids {
		k.leaves(visit)
	}
}

// fill is raw along a row of points, times sign.
func (f *Face) fill(sign float64, p, step r3.Vector, first int, out []float64) {
	q := p.Sub(f.Point)
	h, dh := q.Dot(f.Axis), step.Dot(f.Axis)
	if f.Shape == Plane {
		for i := range out {
			out[i] = sign * (h + float64(first+i)*dh)
		}
		return
	}
	// |q + i step|² - (h + i dh)² = a + 2 b i + c i²
	a := q.Norm2() - h*h
	b := q.Dot(step) - h*dh
	c := step.Norm2() - dh*dh
	sin, cos := f.slant()
	for i := range out {
		t := float64(first + i)
		out[i] = sign * f.section(h+t*dh, math.Sqrt(max(0, a+t*(2*b+t*c))), sin, cos)
	}
}

// atlas is a solid cut up for quick evaluation: a box of cells, each with the
// little of the solid that can matter in it. Values are those of the solid
// itself.
type atlas struct {
	whole *Solid
	lo    r3.Vector
	inv   float64 // cells a mm
	n     [3]int
	cells []*Solid
}

// newAtlas cuts the box from lo to hi into cells. A
// cell's solid is good for points within margin of the cell too.
func newAtlas(s *Solid, lo, hi r3.Vector, margin float64) *atlas {
	size := hi.Sub(lo)
	edge := max(size.X, size.Y, size.Z) / atlasCells
	a := &atlas{whole: s, lo: lo, inv: 1 / edge}
	for k, l := range [3]float64{size.X, size.Y, size.Z} {
		a.n[k] = max(1, int(math.Ceil(l/edge)))
	}
	a.cells = make([]*Solid, a.n[0]*a.n[1]*a.n[2])
	middle := func(c r3.Vector) r3.Vector { return lo.Add(c.Mul(edge)) }
	reach := func(half float64) float64 { return math.Sqrt(3)*half*edge*(1+1e-9) + margin }
	s.cubes([3]int{}, a.n, 64, true, middle, reach, func(at [3]int, s *Solid) {
		a.cells[(at[2]*a.n[1]+at[1])*a.n[0]+at[0]] = s
	})
	return a
}

// near returns a solid that equals the whole within margin of q.
func (a *atlas) near(q r3.Vector) *Solid {
	// Compared as numbers, so that what lies before the box does not round into it.
	x, y, z := (q.X-a.lo.X)*a.inv, (q.Y-a.lo.Y)*a.inv, (q.Z-a.lo.Z)*a.inv
	if x < 0 || y < 0 || z < 0 {
		return a.whole
	}
	i, j, k := int(x), int(y), int(z)
	if i >= a.n[0] || j >= a.n[1] || k >= a.n[2] {
		return a.whole
	}
	return a.cells[(k*a.n[1]+j)*a.n[0]+i]
}
