package plan

import (
	"math"

	"github.com/golang/geo/r1"

	"spotface/report/wording"
)

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
	Fastener      float64      // diameter of the bolts or screws, mm; 0: not said
}

// Places are where the holes of a circle of that radius, mm, are about its centre, turned by so
// much, rad.
func (c *Circle) Places(radius, turn float64) (xy [][2]float64) {
	for _, a := range c.Angles {
		sin, cos := math.Sincos(turn + a*math.Pi/180)
		xy = append(xy, [2]float64{radius * cos, radius * sin})
	}
	return xy
}

// circleFile is a bolt circle as a file has it.
type circleFile struct {
	out           *Circle
	ID            string       `yaml:"id"`
	Count         int          `yaml:"count"`
	Angles        []float64    `yaml:"angles" unit:"deg"`
	Spacing       spacingFile  `yaml:"spacing"`
	PitchDiameter *Size        `yaml:"pitch_diameter"`
	HoleDiameter  *Size        `yaml:"hole_diameter"`
	Clocking      clockingFile `yaml:"clocking"`
	Position      Zone         `yaml:"position"`
	At            []float64    `yaml:"at" unit:"length"`
	Fastener      fastenerFile `yaml:"fastener"`
}

type fastenerFile struct {
	Diameter float64 `yaml:"diameter" unit:"length" over:"0"`
}

type spacingFile struct {
	Nominal float64      `yaml:"nominal" unit:"deg" over:"0"`
	Band    *r1.Interval `yaml:"band" unit:"deg"`
}

type clockingFile struct {
	Band *r1.Interval `yaml:"band" unit:"deg"`
}

func (c *Circle) file() form { return &circleFile{out: c} }

// convert brings count and spacing to angles.
func (f *circleFile) convert(v *validator, path string) {
	*f.out = Circle{ID: f.ID, Angles: f.Angles, SpacingBand: f.Spacing.Band,
		ClockingBand: f.Clocking.Band, PitchDiameter: f.PitchDiameter,
		HoleDiameter: f.HoleDiameter, Position: f.Position, At: f.At, Fastener: f.Fastener.Diameter}
	n, step, nominal := float64(f.Count), f.Spacing.Nominal, path+".spacing.nominal"
	listed := f.Angles != nil
	v.fault(!listed && f.Count == 0, path,
		"bolt circle %s has neither count nor angles: add how many holes it has", f.ID)
	v.fault(listed && step != 0, nominal, "bolt circle %s has angles, which say the spacing "+
		"already: leave the nominal spacing out", f.ID)
	v.fault(listed && f.Count != 0 && f.Count != len(f.Angles), path+".count", "bolt circle %s has "+
		"count %d but %d angles: leave count out, or mend one of them", f.ID, f.Count, len(f.Angles))
	v.fault(!listed && step*n > 360+1e-6*n, nominal, // 51.428571 seven times is a ring, too
		"bolt circle %s: %d holes %s degrees apart need more than a whole turn", f.ID, f.Count,
		wording.Short(step))
	if step == 0 || math.Abs(step*n-360) <= 1e-3*n {
		step = 360 / n // 51.4286 means a seventh
	}
	for i := 0; !listed && i < f.Count; i++ {
		f.out.Angles = append(f.out.Angles, float64(i)*step)
	}
}
