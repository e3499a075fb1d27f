package scansim

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Extras are features of a plate or flange besides its bolt circle, opening in
// or standing on the mounting face z = 0. Lengths in mm.
type Extras struct {
	Holes   []HoleSpec   // X1, X2, ...
	Slots   []SlotSpec   // S1, S2, ...
	Pockets []PocketSpec // roles pocket1:side, pocket1:corner, ...
	Bosses  []BossSpec   // roles boss1, boss1_top, ...
}

// HoleSpec is a round hole at X, Y. A depth of zero goes through. With a
// SinkDiameter it is countersunk at 90 degrees: a chamfer if small.
type HoleSpec struct {
	X, Y, Diameter, Depth float64
	SinkDiameter          float64
}

// SlotSpec is a slot with round ends, Length over all at Angle from x.
type SlotSpec struct {
	X, Y, Width, Length float64
	Angle               s1.Angle
}

// PocketSpec is a rectangular opening with corners of radius Corner.
type PocketSpec struct {
	X, Y, Length, Width, Corner float64
	Angle                       s1.Angle
}

// BossSpec is a round boss.
type BossSpec struct{ X, Y, Diameter, Height float64 }

// add builds the extras of a body of the given thickness: what stands on it,
// what is cut from it, the holes, and the height of the tallest boss.
func (e Extras) add(thick float64) (bosses, tools []*Solid, holes []Hole, top float64) {
	z := r3.Vector{Z: 1}
	for i, b := range e.Bosses {
		role := fmt.Sprintf("boss%d", i+1)
		at := r3.Vector{X: b.X, Y: b.Y}
		bosses = append(bosses, Meet(
			HalfSpace(role+"_top", at.Add(z.Mul(b.Height)), z),
			Rod(role, at, z, b.Diameter/2), cutPlane(z.Mul(-thick/2), z.Mul(-1))))
		top = max(top, b.Height)
	}
	for i, s := range e.Holes {
		h := Hole{
			Name: fmt.Sprintf("X%d", i+1), Kind: "round", On: "mounting", Axis: z,
			Centre: r3.Vector{X: s.X, Y: s.Y}, Diameter: s.Diameter,
		}
		tools = append(tools, drilled(h, s.Depth, s.SinkDiameter))
		holes = append(holes, h)
	}
	for i, s := range e.Slots {
		h := Hole{
			Name: fmt.Sprintf("S%d", i+1), Kind: "slot", On: "mounting", Axis: z,
			Centre: r3.Vector{X: s.X, Y: s.Y}, Width: s.Width, Length: s.Length, Direction: along(s.Angle),
		}
		tools = append(tools, Slot("hole:"+h.Name, h.Centre, z, h.Direction, s.Width, s.Length))
		holes = append(holes, h)
	}
	for i, s := range e.Pockets {
		tools = append(tools, Pocket(fmt.Sprintf("pocket%d", i+1), r3.Vector{X: s.X, Y: s.Y}, z, along(s.Angle),
			s.Length, s.Width, s.Corner))
	}
	return bosses, tools, holes, top
}

// drilled returns the tool for the hole h with an optional countersink.
func drilled(h Hole, depth, sink float64) *Solid {
	tool := Drill("hole:"+h.Name, h.Centre, h.Axis, h.Diameter, depth)
	if sink > h.Diameter {
		tool = Union(tool, Sink("sink:"+h.Name, h.Centre, h.Axis, sink, 90*s1.Degree))
	}
	return tool
}

func along(a s1.Angle) r3.Vector {
	sin, cos := math.Sincos(a.Radians())
	return r3.Vector{X: cos, Y: sin}
}

// PlateSpec describes a rectangular plate about the origin, its mounting face
// in z = 0. Lengths in mm; zero leaves a feature out unless stated otherwise.
type PlateSpec struct {
	Name      string
	Length    float64 // along x; zero means 120
	Width     float64 // along y; zero means 80
	Thickness float64 // zero means 8
	Corner    float64 // radius of the upright edges
	// Step cuts the plate at the +x end down by StepDepth, over StepLength.
	StepLength, StepDepth float64
	Extras
}

// Plate returns the part that spec describes. Faces: mounting, bottom, edge:side,
// edge:corner, step, step_rise, and those of the extras.
func Plate(spec PlateSpec) *Part {
	if spec.Name == "" {
		spec.Name = "plate"
	}
	l, w, t := orElse(spec.Length, 120), orElse(spec.Width, 80), orElse(spec.Thickness, 8)
	x, z := r3.Vector{X: 1}, r3.Vector{Z: 1}
	lo := r3.Vector{X: -l / 2, Y: -w / 2, Z: -t}
	hi := r3.Vector{X: l / 2, Y: w / 2}
	body := Box("mounting", "bottom", "edge:side", lo, hi)
	if spec.Corner > 0 {
		body = Meet(
			HalfSpace("mounting", hi, z), HalfSpace("bottom", lo, z.Mul(-1)),
			roundedBar("edge", r3.Vector{}, z, x, l, w, spec.Corner))
	}
	bosses, tools, holes, top := spec.add(t)
	if len(bosses) > 0 {
		body = Union(append([]*Solid{body}, bosses...)...)
	}
	if spec.StepLength > 0 && spec.StepDepth > 0 {
		tools = append(tools, Meet(
			HalfSpace("step", z.Mul(-spec.StepDepth), z.Mul(-1)),
			HalfSpace("step_rise", x.Mul(l/2-spec.StepLength), x.Mul(-1))))
	}
	hi.Z = top
	p := NewPart(spec.Name, Minus(body, tools...), lo, hi, holes, nil)
	for _, h := range holes {
		if math.Abs(h.Centre.X) > l/2 || math.Abs(h.Centre.Y) > w/2 {
			p.err = fmt.Errorf("simulate %s: hole %s lies beside the plate", spec.Name, h.Name)
		}
	}
	return p
}
