// Package plan is what a part should be: nominal sizes and tolerance bands, read from a
// YAML file, built in Go, or drafted from a measured report.
//
// Lengths are millimetres whatever the unit of the file, angles degrees counter-clockwise
// looking at the face. It judges nothing; package check does.
package plan

import (
	"fmt"
	"math"

	"github.com/golang/geo/r1"

	"spotface/mesh"
	"spotface/report"
)

// Plan is what a part should be: nominal sizes and tolerance bands. Lengths are
// millimetres whatever the unit of the file, angles degrees. A Band holds the
// allowed deviations, measured less nominal; nil means not judged. Its ends may
// be infinite: no limit on that side.
type Plan struct {
	File     string    // base name it was read from, may be empty
	Part     string    // what the part is called
	Unit     mesh.Unit // of the numbers in the file
	ScanUnit mesh.Unit // of the scans, where the plan says; empty: not said
	Frame    Frame
	Scanner  Scanner
	Decision report.Rule // empty: guarded
	// Mates says that scans are of the part that goes onto the planned one, scanned at its
	// mating face.
	Mates       bool
	BoltCircles []Circle
	Holes       []Hole
	Planes      []Plane
	Cylinders   []Cylinder
}

// Frame names the features of the datum frame by their ids in the plan; empty means chosen
// as in a measurement without a plan. Clock is a hole of Holes, or of a bolt circle by its
// place, counted from its first hole: "B1/2", or "H2" of the circle with most holes.
type Frame struct{ Face, Axis, Clock string }

// Size is a length with its band, mm.
type Size struct {
	Nominal float64
	Band    *r1.Interval
}

// PlusMinus is the band of deviations from -half to +half.
func PlusMinus(half float64) *r1.Interval { return Limits(-half, half) }

// Limits is the band of deviations from low to high, either of which may be infinite.
func Limits(low, high float64) *r1.Interval { return &r1.Interval{Lo: low, Hi: high} }

// Ring is the angles of n holes that divide the whole turn evenly, degrees.
func Ring(n int) []float64 {
	angles := make([]float64, n)
	for i := range angles {
		angles[i] = 360 * float64(i) / float64(n)
	}
	return angles
}

// Judged reports whether the plan has a band for the size.
func (s *Size) Judged() bool { return s != nil && s.Band != nil }

// Zone is a true position tolerance.
type Zone struct {
	Diameter float64 // of the zone of each axis, mm; 0: not judged
	// MMC says that the zone holds at maximum material condition: a hole that is larger
	// than the smallest allowed may lie farther off by that much.
	MMC bool
	// Within is the diameter of the zones that hold the axes of a circle's holes about the
	// pattern by itself, shifted and turned as suits them best (a composite tolerance), mm;
	// 0: not judged.
	Within float64
}

// Circle is a planned bolt circle.
type Circle struct {
	ID string
	// Angles of the holes, degrees, counter-clockwise from the first, ascending
	// in [0, 360). A plan that says count and spacing means count of them.
	Angles        []float64
	SpacingBand   *r1.Interval // degrees, hole to hole
	PitchDiameter *Size
	HoleDiameter  *Size
	ClockingBand  *r1.Interval // degrees, each hole
	Position      Zone         // of each hole about its place
	At            []float64    // centre in the datum frame, x, y, mm; nil: not said
}

// Hole is a single planned hole.
type Hole struct {
	ID       string
	At       []float64 // x, y in the datum frame, mm; nil: not said
	Diameter *Size
	Position Zone // about At
}

// Plane is a planned face.
type Plane struct {
	ID       string
	At       []float64 // a point of it in the datum frame, x, y, z, mm; nil: not said
	Normal   []float64 // out of the material in the datum frame; nil: not said
	Flatness float64   // largest allowed, mm; 0: not judged
}

// Cylinder is a planned bore or boss.
type Cylinder struct {
	ID               string
	Side             report.Side // empty: either
	At               []float64
	Diameter         *Size
	PerpendicularTo  string  // id of a plane; empty: the frame's face
	Perpendicularity float64 // diameter of the zone of the axis, mm; 0: not judged
	Cylindricity     float64 // largest allowed, mm; 0: not judged
}

// Pattern returns the nominal places of the bolt circle with most holes, of those that
// have a pitch and a hole diameter, for a bolt-up; name is the file's.
func (p *Plan) Pattern(name string) (*report.Pattern, error) {
	var c *Circle
	for i := range p.BoltCircles {
		k := &p.BoltCircles[i]
		if k.PitchDiameter != nil && k.HoleDiameter != nil && (c == nil || len(k.Angles) > len(c.Angles)) {
			c = k
		}
	}
	if c == nil || len(c.Angles) < 2 {
		return nil, fmt.Errorf("%s: no bolt circle with pitch_diameter and hole_diameter: there is no pattern to bolt up", name)
	}
	var ids []string
	var places [][2]float64
	var diameter []float64
	for i, a := range c.Angles {
		sin, cos := math.Sincos(a * math.Pi / 180)
		r := c.PitchDiameter.Nominal / 2
		ids = append(ids, fmt.Sprintf("%s/H%d", c.ID, i+1))
		places = append(places, [2]float64{r * cos, r * sin})
		diameter = append(diameter, c.HoleDiameter.Nominal)
	}
	return report.NewPattern(name, ids, places, diameter), nil
}
