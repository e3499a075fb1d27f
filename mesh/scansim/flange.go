package scansim

import (
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

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
	// Flat cuts the disc off at this distance from the middle, toward -y.
	Flat float64
	Extras
}

// Flange returns the part that spec describes. Faces: mounting, bottom, outer,
// chamfer, flat, hub, hub_top, bore, hole:A1..., sink:A1..., and those of the
// extras.
func Flange(spec FlangeSpec) *Part {
	if spec.Name == "" {
		spec.Name = "flange"
	}
	radius := orElse(spec.Diameter, 110) / 2
	thick := orElse(spec.Thickness, 8)
	z := r3.Vector{Z: 1}
	body := Meet(HalfSpace("mounting", r3.Vector{}, z), HalfSpace("bottom", z.Mul(-thick), z.Mul(-1)),
		drafted("outer", radius, spec.Draft))
	if c := spec.Chamfer; c > 0 {
		// 45 degrees: the cone's apex lies radius - c above the face.
		body = Meet(body, Spike("chamfer", z.Mul(radius-c), z.Mul(-1), 45*s1.Degree))
	}
	if spec.Flat > 0 {
		body = Meet(body, HalfSpace("flat", r3.Vector{Y: -spec.Flat}, r3.Vector{Y: -1}))
	}
	bosses, tools, extra, top := spec.add(thick)
	if spec.HubDiameter > 0 && spec.HubHeight > 0 {
		top = max(top, spec.HubHeight)
		bosses = append(bosses, Meet(
			HalfSpace("hub_top", z.Mul(spec.HubHeight), z),
			cutPlane(z.Mul(-thick/2), z.Mul(-1)),
			drafted("hub", spec.HubDiameter/2, spec.Draft),
		))
	}
	if len(bosses) > 0 {
		body = Union(append([]*Solid{body}, bosses...)...)
	}
	if spec.Bore > 0 {
		tools = append(tools, drafted("bore", spec.Bore/2, -spec.Draft))
	}
	holes, ring, drills := spec.bolts()
	tools = append(tools, drills...)
	wide := radius + thick*tan(spec.Draft)
	lo, hi := r3.Vector{X: -wide, Y: -wide, Z: -thick}, r3.Vector{X: wide, Y: wide, Z: top}
	var patterns []Pattern
	if len(holes) > 0 {
		patterns = []Pattern{ring}
	}
	p := NewPart(spec.Name, Minus(body, tools...), lo, hi, append(holes, extra...), patterns)
	for _, h := range holes {
		d := math.Hypot(h.Centre.X, h.Centre.Y)
		if d+h.Diameter/2 > radius || d-h.Diameter/2 < max(spec.Bore, spec.HubDiameter)/2 {
			p.err = fmt.Errorf("simulate %s: hole %s does not fit between hub or bore and rim", spec.Name, h.Name)
		}
	}
	return p
}

// drafted returns a cylinder about z, or with a draft the cone that has the given
// radius in z = 0 and narrows upward.
func drafted(role string, radius float64, draft s1.Angle) *Solid {
	z := r3.Vector{Z: math.Copysign(1, draft.Radians())}
	if draft == 0 {
		return Rod(role, r3.Vector{}, r3.Vector{Z: 1}, radius)
	}
	half := s1.Angle(math.Abs(draft.Radians()))
	return Spike(role, z.Mul(radius/tan(half)), z.Mul(-1), half)
}

// bolts lays out the bolt circle A.
func (spec FlangeSpec) bolts() (holes []Hole, ring Pattern, tools []*Solid) {
	n := spec.Holes
	if n == 0 {
		n = 6
	}
	step := spec.Spacing
	if step == 0 && n > 0 {
		step = 2 * math.Pi / s1.Angle(n)
	}
	pitch := orElse(spec.PitchDiameter, 84)
	z := r3.Vector{Z: 1}
	ring = Pattern{
		Name: "A", Axis: z, X: r3.Vector{X: 1}, PitchDiameter: pitch, Spacing: step,
		FullRing: math.Abs(step.Radians()*float64(n)-2*math.Pi) < 1e-9,
	}
	for i := range n {
		if slices.Contains(spec.Missing, i) {
			continue
		}
		nominal := spec.Start + s1.Angle(i)*step
		sin, cos := math.Sincos((nominal + at(spec.Clocking, i)).Radians())
		r := pitch/2 + at(spec.Radial, i)
		h := Hole{
			Name: fmt.Sprintf("A%d", i+1), Kind: "round", On: "mounting", Axis: z,
			Centre:   r3.Vector{X: r * cos, Y: r * sin},
			Diameter: orElse(spec.HoleDiameter, 6.6),
		}
		tools = append(tools, drilled(h, 0, spec.SinkDiameter))
		ring.Holes = append(ring.Holes, len(holes))
		ring.Nominal = append(ring.Nominal, nominal)
		holes = append(holes, h)
	}
	return holes, ring, tools
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

func orElse(v, otherwise float64) float64 {
	if v == 0 {
		return otherwise
	}
	return v
}

// at returns s[i], or zero past the end.
func at[T ~float64](s []T, i int) T {
	if i < len(s) {
		return s[i]
	}
	return 0
}
