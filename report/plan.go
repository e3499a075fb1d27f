package report

import (
	"github.com/golang/geo/r1"

	"spotface/mesh"
)

// Plan is what a part should be: nominal sizes and tolerance bands. Lengths are
// millimetres whatever the unit of the file, angles degrees. A Band holds the
// allowed deviations, measured less nominal; nil means not judged. Its ends may
// be infinite: no limit on that side.
type Plan struct {
	File        string    // base name it was read from, may be empty
	Part        string    // what the part is called
	Unit        mesh.Unit // of the numbers in the file
	ScanUnit    mesh.Unit // of the scans, where the plan says; empty: not said
	Frame       PlanFrame
	Scanner     Scanner
	Decision    Rule // empty: guarded
	BoltCircles []PlanCircle
	Holes       []PlanHole
	Planes      []PlanPlane
	Cylinders   []PlanCylinder
}

// PlanFrame names the features of the datum frame; empty means chosen as in a
// measurement without a plan. Clock is a hole of Holes, or any other name for
// the first hole of the first bolt circle.
type PlanFrame struct{ Face, Axis, Clock string }

// Size is a length with its band, mm.
type Size struct {
	Nominal float64
	Band    *r1.Interval
}

// PlanCircle is a planned bolt circle.
type PlanCircle struct {
	ID string
	// Angles of the holes, degrees, counter-clockwise from the first, ascending
	// in [0, 360). A plan that says count and spacing means count of them.
	Angles        []float64
	SpacingBand   *r1.Interval // degrees, hole to hole
	PitchDiameter *Size
	HoleDiameter  *Size
	ClockingBand  *r1.Interval // degrees, each hole
	Position      float64      // diameter of the true position zone, mm; 0: not judged
	At            []float64    // centre in the datum frame, x, y, mm; nil: not said
}

// Regular reports whether the angles divide the whole turn evenly.
func (c *PlanCircle) Regular() bool {
	step := 360 / float64(len(c.Angles))
	for i, a := range c.Angles {
		if d := a - float64(i)*step; d > 1e-9 || d < -1e-9 {
			return false
		}
	}
	return true
}

// PlanHole is a single planned hole.
type PlanHole struct {
	ID       string
	At       []float64 // x, y in the datum frame, mm; nil: not said
	Diameter *Size
	Position float64 // diameter of the true position zone about At, mm; 0: not judged
}

// PlanPlane is a planned face.
type PlanPlane struct {
	ID       string
	At       []float64 // a point of it in the datum frame, x, y, z, mm; nil: not said
	Normal   []float64 // out of the material in the datum frame; nil: not said
	Flatness float64   // largest allowed, mm; 0: not judged
}

// PlanCylinder is a planned bore or boss.
type PlanCylinder struct {
	ID               string
	Side             Side // empty: either
	At               []float64
	Diameter         *Size
	PerpendicularTo  string  // id of a plane; empty: the frame's face
	Perpendicularity float64 // diameter of the zone of the axis, mm; 0: not judged
	Cylindricity     float64 // largest allowed, mm; 0: not judged
}
