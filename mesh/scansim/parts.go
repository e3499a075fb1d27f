package scansim

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
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
	err      error
}

// Hole is a hole of a part. It opens in the face "mounting"; its wall is the face of
// the role "hole:" + Name.
type Hole struct {
	Name     string
	Kind     string    // "round", "slot"
	Centre   r3.Vector // where the axis meets the face, mm
	Axis     r3.Vector // unit, out of the material
	Diameter float64   // round, mm
	// Slots: over the round ends, mm.
	Width, Length float64
	Direction     r3.Vector
	Face          uint16 // id of the face that it opens in, set by NewPart
	Wall          uint16 // id of the wall of a round hole, set by NewPart
}

// NewPart numbers the faces of a solid that lies within the box from lo to hi.
func NewPart(name string, s *Solid, lo, hi r3.Vector, holes []Hole) *Part {
	p := &Part{Name: name, Lo: lo, Hi: hi}
	p.solid = p.adopt(s, map[*leaf]*leaf{}, func(*leaf) {})
	if !(lo.X < hi.X && lo.Y < hi.Y && lo.Z < hi.Z) {
		p.err = p.fault("the box from %v to %v is empty", lo, hi)
	}
	for _, h := range holes {
		h.Face = p.FaceNamed("mounting").ID
		h.Wall = p.FaceNamed("hole:" + h.Name).ID
		h.Axis = h.Axis.Normalize()
		p.Holes = append(p.Holes, h)
		if h.Face == 0 {
			p.err = p.fault("hole %s has no face called mounting to open in", h.Name)
		}
	}
	return p
}

// fault says what is wrong with the part or with what is asked of it.
func (p *Part) fault(format string, args ...any) error {
	return fmt.Errorf("simulate "+p.Name+": "+format, args...)
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

// adopt copies s into p, numbering the leaves in the order met. shape may change the
// form of each.
func (p *Part) adopt(s *Solid, seen map[*leaf]*leaf, shape func(*leaf)) *Solid {
	if s.op != opLeaf {
		var kids []*Solid
		for _, k := range s.kids {
			kids = append(kids, p.adopt(k, seen, shape))
		}
		return combine(s.op, kids)
	}
	own := seen[s.leaf]
	if own == nil {
		copied := *s.leaf
		own = &copied
		seen[s.leaf] = own
		if !own.cut {
			f := own.face
			f.ID = uint16(len(p.Faces) + 1)
			if s.sign < 0 && f.Shape == Plane {
				f.Axis = f.Axis.Mul(-1)
			} else if s.sign < 0 {
				f.Internal = true
			}
			shape(own)
			own.id = f.ID
			p.Faces = append(p.Faces, f)
		}
	}
	c := &Solid{op: opLeaf, sign: s.sign, leaf: own}
	if own.form != nil {
		c.slack, c.slope = 2*own.form.Max, own.form.Slope
	}
	return c
}

// Extras are features of a plate or flange besides its bolt circle, opening in
// or standing on the mounting face z = 0. Lengths in mm.
type Extras struct {
	Holes   []HoleSpec   // X1, X2, ...
	Slots   []SlotSpec   // S1, S2, ...
	Pockets []PocketSpec // roles pocket1:side, pocket1:corner, ...
	Bosses  []BossSpec   // roles boss1, boss1_top, ...; holes go through them
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

// workpiece is a part in the making: what is put on its body, what is cut from it.
type workpiece struct {
	thick         float64
	bosses, tools []*Solid
	holes         []Hole
	top           float64 // of the tallest boss
}

// newWorkpiece lays out the extras of a body of the given thickness.
func newWorkpiece(thick float64, e Extras) *workpiece {
	w := &workpiece{thick: thick}
	for i, b := range e.Bosses {
		role, at := fmt.Sprintf("boss%d", i+1), r3.Vector{X: b.X, Y: b.Y}
		w.boss(role, at, Rod(role, at, up, b.Diameter/2), b.Height)
	}
	for i, s := range e.Holes {
		h := Hole{Name: fmt.Sprintf("X%d", i+1), Centre: r3.Vector{X: s.X, Y: s.Y}, Diameter: s.Diameter}
		w.drill(h, s.Depth, s.SinkDiameter)
	}
	for i, s := range e.Slots {
		h := Hole{
			Name: fmt.Sprintf("S%d", i+1), Kind: "slot", Axis: up,
			Centre: r3.Vector{X: s.X, Y: s.Y}, Width: s.Width, Length: s.Length, Direction: along(s.Angle),
		}
		w.tools = append(w.tools, Slot("hole:"+h.Name, h.Centre, up, h.Direction, s.Width, s.Length))
		w.holes = append(w.holes, h)
	}
	for i, s := range e.Pockets {
		w.tools = append(w.tools, Pocket(fmt.Sprintf("pocket%d", i+1), r3.Vector{X: s.X, Y: s.Y}, up,
			along(s.Angle), s.Length, s.Width, s.Corner))
	}
	return w
}

// boss puts a boss with the given wall on the body.
func (w *workpiece) boss(role string, at r3.Vector, wall *Solid, height float64) {
	w.bosses = append(w.bosses, Meet(HalfSpace(role+"_top", at.Add(up.Mul(height)), up), wall,
		cutPlane(up.Mul(-w.thick/2), up.Mul(-1))))
	w.top = max(w.top, height)
}

// drill cuts the round hole h, through the bosses over it too, with a countersink where
// sink is larger.
func (w *workpiece) drill(h Hole, depth, sink float64) {
	h.Kind, h.Axis = "round", up
	tool := drill("hole:"+h.Name, h.Centre, up, h.Diameter, depth, w.top+1)
	if sink > h.Diameter {
		tool = Union(tool, Sink("sink:"+h.Name, h.Centre, up, sink, 90*s1.Degree))
	}
	w.tools, w.holes = append(w.tools, tool), append(w.holes, h)
}

// part returns the finished part, whose upper corner is hi but for bosses.
func (w *workpiece) part(name string, body *Solid, lo, hi r3.Vector) *Part {
	if len(w.bosses) > 0 {
		body = Union(append([]*Solid{body}, w.bosses...)...)
	}
	hi.Z = w.top
	return NewPart(name, Minus(body, w.tools...), lo, hi, w.holes)
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
	l, w, t := cmp.Or(spec.Length, 120), cmp.Or(spec.Width, 80), cmp.Or(spec.Thickness, 8)
	x := r3.Vector{X: 1}
	lo, hi := r3.Vector{X: -l / 2, Y: -w / 2, Z: -t}, r3.Vector{X: l / 2, Y: w / 2}
	body := Box("mounting", "bottom", "edge:side", lo, hi)
	if spec.Corner > 0 {
		body = Meet(HalfSpace("mounting", hi, up), HalfSpace("bottom", lo, up.Mul(-1)),
			roundedBar("edge", r3.Vector{}, up, x, l, w, spec.Corner))
	}
	piece := newWorkpiece(t, spec.Extras)
	if spec.StepLength > 0 && spec.StepDepth > 0 {
		piece.tools = append(piece.tools, Meet(
			HalfSpace("step", up.Mul(-spec.StepDepth), up.Mul(-1)),
			HalfSpace("step_rise", x.Mul(l/2-spec.StepLength), x.Mul(-1))))
	}
	p := piece.part(cmp.Or(spec.Name, "plate"), body, lo, hi)
	for _, h := range p.Holes {
		if math.Abs(h.Centre.X) > l/2 || math.Abs(h.Centre.Y) > w/2 {
			p.err = p.fault("hole %s lies beside the plate", h.Name)
		}
	}
	return p
}

// FlangeSpec describes a disc with a bolt circle, its mounting face in z = 0.
// Lengths in mm; zero leaves a feature out unless stated otherwise.
type FlangeSpec struct {
	Name          string
	Diameter      float64 // zero means 110
	Thickness     float64 // zero means 8
	Chamfer       float64 // at 45 degrees, of the outer edge
	HubDiameter   float64 // a round boss about the middle
	HubHeight     float64
	Bore          float64 // through the middle
	PitchDiameter float64 // zero means 84
	HoleDiameter  float64 // zero means 6.6
	// Holes is the number of positions of the bolt circle; negative means
	// none, zero means 6.
	Holes int
	// Spacing of neighbouring positions; zero means a full ring.
	Spacing s1.Angle
	// Start is the angle of the first position from +x.
	Start s1.Angle
	// Missing positions carry no hole; counted from 0.
	Missing []int
	// Clocking and Radial hold what each position is off by: an angle
	// counter-clockwise about the centre, mm outward. Positions beyond the end
	// are exact.
	Clocking []s1.Angle
	Radial   []float64
	// SinkDiameter of a countersink of 90 degrees at each hole.
	SinkDiameter float64
	// Draft turns outer wall, hub and bore into cones: they open toward the
	// scanner as a casting leaves its mould, with their sizes in z = 0.
	Draft s1.Angle
	Extras
}

// Flange returns the part that spec describes. Faces: mounting, bottom, outer,
// chamfer, hub, hub_top, bore, hole:A1..., sink:A1..., and those of the extras.
func Flange(spec FlangeSpec) *Part {
	radius, thick := cmp.Or(spec.Diameter, 110)/2, cmp.Or(spec.Thickness, 8)
	body := Meet(HalfSpace("mounting", r3.Vector{}, up),
		HalfSpace("bottom", up.Mul(-thick), up.Mul(-1)), drafted("outer", radius, spec.Draft))
	if c := spec.Chamfer; c > 0 {
		// 45 degrees: the cone's apex lies radius - c above the face.
		body = Meet(body, Spike("chamfer", up.Mul(radius-c), up.Mul(-1), 45*s1.Degree))
	}
	piece := newWorkpiece(thick, spec.Extras)
	if spec.HubDiameter > 0 && spec.HubHeight > 0 {
		piece.boss("hub", r3.Vector{}, drafted("hub", spec.HubDiameter/2, spec.Draft), spec.HubHeight)
	}
	if spec.Bore > 0 {
		piece.tools = append(piece.tools, drafted("bore", spec.Bore/2, -spec.Draft))
	}
	extras := piece.holes
	piece.holes = nil
	ring := spec.bolts(piece)
	piece.holes = append(piece.holes, extras...)
	wide := radius + thick*tan(spec.Draft)
	p := piece.part(cmp.Or(spec.Name, "flange"), body,
		r3.Vector{X: -wide, Y: -wide, Z: -thick}, r3.Vector{X: wide, Y: wide})
	if len(ring.Holes) > 0 {
		p.Patterns = []Pattern{ring.fitted(p.Holes)}
	}
	for _, i := range ring.Holes {
		h := p.Holes[i]
		d := math.Hypot(h.Centre.X, h.Centre.Y)
		if d+h.Diameter/2 > radius || d-h.Diameter/2 < max(spec.Bore, spec.HubDiameter)/2 {
			p.err = p.fault("hole %s does not fit between hub or bore and rim", h.Name)
		}
	}
	return p
}

// drafted returns a cylinder about z, or with a draft the cone that has the given
// radius in z = 0 and narrows upward.
func drafted(role string, radius float64, draft s1.Angle) *Solid {
	if draft == 0 {
		return Rod(role, r3.Vector{}, up, radius)
	}
	z := up.Mul(math.Copysign(1, draft.Radians()))
	half := s1.Angle(math.Abs(draft.Radians()))
	return Spike(role, z.Mul(radius/tan(half)), z.Mul(-1), half)
}

// bolts drills the bolt circle A into the piece.
func (spec FlangeSpec) bolts(piece *workpiece) Pattern {
	n := cmp.Or(spec.Holes, 6)
	step := spec.Spacing
	if step == 0 && n > 0 {
		step = 2 * math.Pi / s1.Angle(n)
	}
	pitch := cmp.Or(spec.PitchDiameter, 84)
	ring := Pattern{Name: "A", Axis: up, X: r3.Vector{X: 1}, PitchDiameter: pitch}
	for i := range n {
		if slices.Contains(spec.Missing, i) {
			continue
		}
		nominal := spec.Start + s1.Angle(i)*step
		ring.Holes = append(ring.Holes, len(ring.Holes))
		ring.Nominal = append(ring.Nominal, nominal)
		piece.drill(Hole{
			Name:     fmt.Sprintf("A%d", i+1),
			Centre:   along(nominal + at(spec.Clocking, i)).Mul(pitch/2 + at(spec.Radial, i)),
			Diameter: cmp.Or(spec.HoleDiameter, 6.6),
		}, 0, spec.SinkDiameter)
	}
	return ring
}

// KettlePort returns the round port of an old brewing kettle that a new level
// sensor is to go on: six holes of 6.6 mm at 60 degrees on a pitch circle of 84
// mm, a raised collar, a bore of 40 mm. The third hole is 0.40 degrees off.
func KettlePort() *Part {
	return Flange(FlangeSpec{
		Name: "kettle port", Diameter: 108, Thickness: 6, Chamfer: 1,
		HubDiameter: 54, HubHeight: 5, Bore: 40, Start: 17 * s1.Degree,
		Clocking: []s1.Angle{0, 0, 0.40 * s1.Degree},
	})
}

// along returns the direction at the angle a from +x in the mounting face.
func along(a s1.Angle) r3.Vector {
	sin, cos := math.Sincos(a.Radians())
	return r3.Vector{X: cos, Y: sin}
}

// at returns s[i], or zero past the end.
func at[T ~float64](s []T, i int) T {
	if i < len(s) {
		return s[i]
	}
	return 0
}
