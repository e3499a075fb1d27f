package plan

import (
	"fmt"
	"reflect"
	"slices"

	"spotface/report"
)

// Feature is what features of all kinds have in common. Its slices and pointers are those of
// the plan; what a kind does not have is zero.
type Feature struct {
	Kind       string // "bolt circle", "hole", "plane" or "cylinder"
	Path       string // its place in the plan's file: "holes[0]"
	ID         string
	At, Normal []float64
	Size       *Size  // of the hole, of each hole of a circle, or of the cylinder
	SizeKey    string // of Size in the file
	Pitch      *Size  // pitch diameter of a bolt circle
	Side       report.Side
	Position   Zone
	Form       float64 // flatness or cylindricity
	FormKey    report.Characteristic
	// Perpendicularity is to the plane PerpendicularTo.
	Perpendicularity float64
	PerpendicularTo  string
}

// Features lists the bolt circles, holes, planes and cylinders, in this order.
func (p *Plan) Features() []Feature {
	var out []Feature
	for i, c := range p.BoltCircles {
		out = append(out, Feature{Kind: "bolt circle", Path: entry("bolt_circles", i), ID: c.ID,
			At: c.At, Size: c.HoleDiameter, SizeKey: "hole_diameter", Pitch: c.PitchDiameter,
			Position: c.Position})
	}
	for i, h := range p.Holes {
		out = append(out, Feature{Kind: "hole", Path: entry("holes", i), ID: h.ID, At: h.At,
			Size: h.Diameter, SizeKey: "diameter", Position: h.Position})
	}
	for i, f := range p.Planes {
		out = append(out, Feature{Kind: "plane", Path: entry("planes", i), ID: f.ID, At: f.At,
			Normal: f.Normal, Form: f.Flatness, FormKey: report.Flatness})
	}
	for i, c := range p.Cylinders {
		out = append(out, Feature{Kind: "cylinder", Path: entry("cylinders", i), ID: c.ID, At: c.At,
			Size: c.Diameter, SizeKey: "diameter", Side: c.Side, Form: c.Cylindricity,
			FormKey: report.Cylindricity, Perpendicularity: c.Perpendicularity,
			PerpendicularTo: c.PerpendicularTo})
	}
	return out
}

// Clone returns a copy that shares nothing with p.
func (p *Plan) Clone() *Plan { return clone(reflect.ValueOf(p)).Interface().(*Plan) }

func clone(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	out.Set(v)
	switch {
	case v.Kind() == reflect.Pointer && !v.IsNil():
		out.Set(reflect.New(v.Type().Elem()))
		out.Elem().Set(clone(v.Elem()))
	case v.Kind() == reflect.Slice && !v.IsNil():
		out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		for i := range v.Len() {
			out.Index(i).Set(clone(v.Index(i)))
		}
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			out.Field(i).Set(clone(v.Field(i)))
		}
	}
	return out
}

// Mirrored returns the plan of the part that goes onto the planned one, looking at its own
// mating face: what is counter-clockwise on one is clockwise on the other. X stays where it
// is. A circle's last place becomes its first, so that part of a ring stays one.
func (p *Plan) Mirrored() *Plan {
	out := p.Clone()
	out.Mates = false
	for _, f := range out.Features() {
		for _, v := range [][]float64{f.At, f.Normal} {
			if v != nil {
				v[1] = -v[1]
			}
		}
	}
	for _, c := range out.BoltCircles {
		slices.Reverse(c.Angles)
		last := c.Angles[0]
		for k := range c.Angles {
			c.Angles[k] = last - c.Angles[k]
		}
	}
	mirrored := func(circle, at int) string {
		c := &p.BoltCircles[circle]
		return fmt.Sprintf("%s/%d", c.ID, len(c.Angles)-at)
	}
	if circle, at, err := p.ClockedBy(); err == nil && circle >= 0 {
		out.Frame.Clock = mirrored(circle, at)
	}
	for _, l := range out.Scanner.ReferenceLengths {
		for k, f := range l.Features {
			if circle, at := p.place(f); at >= 0 {
				l.Features[k] = mirrored(circle, at)
			}
		}
	}
	return out
}
