// Package plan is what a part should be: nominal sizes and tolerance bands, read from a
// YAML file, built in Go, or drafted from a measured report.
//
// Lengths are millimetres whatever the unit of the file, angles degrees counter-clockwise
// looking at the face. It judges nothing; package check does.
package plan

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"github.com/goccy/go-yaml"
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
	Part     string    `yaml:"part"`
	Revision string    `yaml:"revision"`
	Unit     mesh.Unit `yaml:"unit"`
	ScanUnit mesh.Unit `yaml:"scan_unit"`
	Frame    Frame     `yaml:"frame"`
	Scanner  Scanner   `yaml:"scanner"`
	// Decision is empty for guarded.
	Decision report.Rule `yaml:"decision"`
	// Mates says that scans are of the part that goes onto the planned one, scanned at its
	// mating face.
	Mates       bool       `yaml:"mates"`
	Surface     Surface    `yaml:"surface"`
	BoltCircles []Circle   `yaml:"bolt_circles"`
	Holes       []Hole     `yaml:"holes"`
	Planes      []Plane    `yaml:"planes"`
	Cylinders   []Cylinder `yaml:"cylinders"`
}

// Beside its key each field says the unit of its number (length: the plan's own, deg, K and so
// on); keys.txt has an example and what it means: what "spotface help plan" and the schema
// print. A number that is tagged over or min must be over that or no less, where a file gives it.

// Frame names the features of the datum frame by their ids in the plan; empty means chosen
// as in a measurement without a plan. Clock is a hole of Holes, or of a bolt circle by its
// place, counted from its first hole: "B1/2", or "H2" of the circle with most holes.
type Frame struct {
	Face  string `yaml:"face"`
	Axis  string `yaml:"axis"`
	Clock string `yaml:"clock"`
}

// Surface says which deviations of scanned points from the surfaces found are grey in maps.
// It judges nothing. Without a band they are by the scan's noise.
type Surface struct {
	Band *r1.Interval `yaml:"band" unit:"length"`
}

// Size is a length with its band, mm.
type Size struct {
	Nominal float64      `yaml:"nominal" unit:"length" over:"0"`
	Band    *r1.Interval `yaml:"band" unit:"length"`
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

// Zone is a true position tolerance; 0 is not judged.
type Zone struct {
	Diameter float64 `yaml:"diameter" unit:"length" over:"0"`
	// MMC says that the zone holds at maximum material condition: a hole that is larger
	// than the smallest allowed may lie farther off by that much.
	MMC bool `yaml:"material" word:"mmc"`
	// Within is the diameter of the zones that hold the axes of a circle's holes about the
	// pattern by itself, shifted and turned as suits them best (a composite tolerance).
	Within float64 `yaml:"within" unit:"length" over:"0"`
}

// Hole is a single planned hole. Without At its place is not said.
type Hole struct {
	ID       string    `yaml:"id"`
	At       []float64 `yaml:"at" unit:"length"`
	Diameter *Size     `yaml:"diameter"`
	Position Zone      `yaml:"position"`
}

// Plane is a planned face. A flatness of 0 is not judged.
type Plane struct {
	ID       string    `yaml:"id"`
	At       []float64 `yaml:"at" unit:"length"`
	Normal   []float64 `yaml:"normal"`
	Flatness float64   `yaml:"flatness" unit:"length" over:"0"`
}

// Cylinder is a planned bore or boss: of either side, where that is empty. What is 0 is not
// judged.
type Cylinder struct {
	ID               string      `yaml:"id"`
	Side             report.Side `yaml:"side"`
	At               []float64   `yaml:"at" unit:"length"`
	Diameter         *Size       `yaml:"diameter"`
	PerpendicularTo  string      `yaml:"perpendicular_to"`
	Perpendicularity float64     `yaml:"perpendicularity" unit:"length" over:"0"`
	Cylindricity     float64     `yaml:"cylindricity" unit:"length" over:"0"`
}

// Pattern returns the nominal places of the bolt circle with most holes, of those that
// have a pitch and a hole diameter, for a bolt-up; name is the file's.
func (p *Plan) Pattern(name string) (*report.Pattern, error) {
	sized := func(i int) bool {
		return p.BoltCircles[i].PitchDiameter != nil && p.BoltCircles[i].HoleDiameter != nil
	}
	main := p.MainCircle(sized)
	if main < 0 || len(p.BoltCircles[main].Angles) < 2 {
		return nil, fmt.Errorf("%s: no bolt circle with pitch_diameter and hole_diameter: there "+
			"is no pattern to bolt up", name)
	}
	c := &p.BoltCircles[main]
	var ids []string
	for i := range c.Angles {
		ids = append(ids, fmt.Sprintf("%s/H%d", c.ID, i+1))
	}
	places := c.Places(c.PitchDiameter.Nominal/2, 0)
	diameter := slices.Repeat([]float64{c.HoleDiameter.Nominal}, len(ids))
	out := report.NewPattern(name, ids, places, diameter)
	out.Fastener = c.Fastener
	for _, k := range p.Cylinders {
		if k.ID == p.Frame.Axis && k.Side == report.Internal && k.Diameter != nil {
			out.Bore = &report.AdapterBore{Diameter: k.Diameter.Nominal}
		}
	}
	return out, nil
}

// Checksum differs between plans that judge differently, so that results of another plan are
// recognised. Layout, comments and the file's name do not change it, nor does a later
// version's key that this plan does not use.
func (p *Plan) Checksum() (string, error) {
	content := *p
	content.File = ""
	b, err := yaml.MarshalWithOptions(&content, yaml.OmitZero(), yaml.OmitEmpty())
	if err != nil {
		return "", fmt.Errorf("plan: %w", err)
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:8]), nil
}
