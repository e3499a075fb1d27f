package scansim

import (
	"fmt"

	"github.com/golang/geo/r3"
)

// Part is a solid with its faces numbered and its holes known. Make one with
// NewPart, Flange, Plate or KettlePort; it is not changed afterwards and may be
// scanned by several goroutines.
type Part struct {
	Name     string
	Lo, Hi   r3.Vector // corners of a box around it, mm
	Faces    []Face    // Faces[i] has the id i+1
	Holes    []Hole
	Patterns []Pattern
	solid    *Solid
	leaves   []*leaf // of the faces, in their order
	err      error
}

// Hole is a hole of a part. Its wall is the face of the role "hole:" + Name.
type Hole struct {
	Name     string
	Kind     string    // "round", "slot"
	Centre   r3.Vector // where the axis meets the face, mm
	Axis     r3.Vector // unit, out of the material
	Diameter float64   // round, mm
	// Slots: over the round ends, mm.
	Width, Length float64
	Direction     r3.Vector
	On            string // role of the face that it opens in; empty means "mounting"
	Face          uint16 // id of that face, set by NewPart
	Wall          uint16 // id of the wall of a round hole, set by NewPart
}

// NewPart numbers the faces of a solid that lies within the box from lo to hi.
// Holes and patterns (of indices into holes) may be nil.
func NewPart(name string, s *Solid, lo, hi r3.Vector, holes []Hole, patterns []Pattern) *Part {
	p := &Part{Name: name, Lo: lo, Hi: hi, Patterns: patterns}
	p.solid = p.adopt(s, map[*leaf]*leaf{})
	p.solid.bound()
	if !(lo.X < hi.X && lo.Y < hi.Y && lo.Z < hi.Z) {
		p.err = fmt.Errorf("simulate %s: the box from %v to %v is empty", name, lo, hi)
	}
	for _, h := range holes {
		if h.On == "" {
			h.On = "mounting"
		}
		h.Face = p.FaceNamed(h.On).ID
		h.Wall = p.FaceNamed("hole:" + h.Name).ID
		h.Axis = h.Axis.Normalize()
		p.Holes = append(p.Holes, h)
		if h.Face == 0 {
			p.err = fmt.Errorf("simulate %s: hole %s opens in %q, which is no face", name, h.Name, h.On)
		}
	}
	for _, b := range patterns {
		if err := b.check(len(p.Holes)); err != nil {
			p.err = fmt.Errorf("simulate %s: %w", name, err)
		}
	}
	return p
}

// FaceNamed returns the first face with the given role; its ID is 0 if there is
// none.
func (p *Part) FaceNamed(role string) Face {
	for _, f := range p.Faces {
		if f.Role == role {
			return f
		}
	}
	return Face{}
}

// adopt copies s into p, numbering the leaves in the order met.
func (p *Part) adopt(s *Solid, seen map[*leaf]*leaf) *Solid {
	c := &Solid{op: s.op, sign: s.sign}
	for _, k := range s.kids {
		c.kids = append(c.kids, p.adopt(k, seen))
	}
	if s.op != opLeaf {
		return c
	}
	if own, ok := seen[s.leaf]; ok {
		c.leaf = own
		return c
	}
	own := *s.leaf
	if !own.cut {
		f := own.face
		f.ID = uint16(len(p.Faces) + 1)
		if s.sign < 0 {
			if f.Shape == Plane {
				f.Axis = f.Axis.Mul(-1)
			} else {
				f.Internal = true
			}
		}
		p.Faces = append(p.Faces, f)
		own.id = f.ID
		p.leaves = append(p.leaves, &own)
	}
	c.leaf = &own
	seen[s.leaf] = c.leaf
	return c
}

// faceAt returns the id of the face that q lies on, or LabelEdge where another
// face begins within margin of it. It looks at q and at eight points around it
// in the tangent plane.
func faceAt(s *Solid, q r3.Vector, margin float64) uint16 {
	_, from := s.active(q)
	id := from.leaf.id
	if id == LabelEdge || id == LabelOutlier {
		return id
	}
	n := from.leaf.face.Normal(q)
	e1 := n.Ortho()
	e2 := n.Cross(e1)
	const diag = 0.7071067811865476
	for _, w := range [8][2]float64{{1, 0}, {diag, diag}, {0, 1}, {-diag, diag}, {-1, 0}, {-diag, -diag}, {0, -1}, {diag, -diag}} {
		if _, f := s.active(q.Add(e1.Mul(margin * w[0])).Add(e2.Mul(margin * w[1]))); f.leaf.id != id {
			return LabelEdge
		}
	}
	return id
}
