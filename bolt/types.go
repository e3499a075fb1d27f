package bolt

import (
	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/bolt/hole"
	"spotface/bolt/pattern"
)

// Kind of a hole.
type Kind = hole.Kind

// A hole is round, a slot with round ends, or a rectangle, its corners rounded or not.
const (
	Round     = hole.Round
	Slot      = hole.Slot
	Rectangle = hole.Rectangle
)

// From says what a hole was measured by.
type From string

// A hole is measured by its wall, by its rim on the face, or by both.
const (
	Wall From = "wall"
	Rim  From = "rim"
	Both From = "both"
)

// Hole is a hole (or, in Measurement.Studs, a stud) on a face.
type Hole struct {
	ID       string // "H1"...; studs "D1"...
	Kind     Kind
	Centre   r3.Vector // where its axis meets the face, mm
	Axis     r3.Vector // unit, out of the material
	Diameter float64   // round, mm
	Face     string    // id of the plane
	Wall     string    // id of the cylinder; empty if only the rim was seen, and of slots
	From     From
	Arc      s1.Angle // of the circumference that was seen; of slots and rectangles, 360 degrees is all of the outline

	// ByPattern: too little of it was seen to find it by itself; it was looked for where its
	// pattern has a position.
	ByPattern bool

	// RimDiameter is what the rim reads before its rounding is allowed for, mm;
	// 0 unless the hole was measured by its rim on a mesh, and the rounding shows.
	RimDiameter float64
	// RimOff is how far the rim's centre lies from the wall's, mm, by which the hole
	// was measured; 0 unless both were seen and lie farther apart than their
	// uncertainties explain.
	RimOff float64
	// Tilt is the angle of its axis to the normal of its face, where that is significant; else 0.
	Tilt s1.Angle

	// Through says that it was seen to go through, Depth, mm below its face, where its
	// floor begins; neither is known of a hole whose end was not seen. What it opens in:
	Through     bool
	Depth       float64
	Counterbore *Counterbore // a spot face, too
	Countersink *Countersink
	// Thread is the helical ripple of a tapped hole's wall; Diameter is then its minor
	// diameter. A scan shows no thread well enough to judge it.
	Thread *Thread

	// Slots and rectangles: over all, mm, with their standard uncertainties; Direction is
	// a unit vector along the length.
	Width, Length, WidthU, LengthU float64
	Direction                      r3.Vector
	DirectionU                     s1.Angle
	EndWalls                       []string // ids of the cylinders of its ends

	// CentreCov is the covariance of the centre in the face, mm², along
	// geom.Basis(Axis), and CentreDOF its degrees of freedom: how well the noise
	// that it comes from is known. The centre has the distribution of Student with
	// this covariance; 0 means the normal distribution. DiameterU is the
	// standard uncertainty of Diameter, mm, UnseenU the part of it (of WidthU and
	// LengthU) that no residual shows: what fusing to a mesh or the rounding of a rim
	// may have moved.
	CentreCov          [2][2]float64
	CentreDOF          float64
	DiameterU, UnseenU float64

	// Holes of one group share a fitted radius: the part of their centres'
	// error that follows it, mm per standard deviation of the radius.
	shared int // group, 0 for none
	common [2]float64

	// Cross is the covariance of this centre with those of other holes by id, mm², along
	// the axes of either, where it comes from a saved report: see CommonError.
	Cross map[string][2][2]float64
}

// Counterbore is the wide part in which a hole opens, mm.
type Counterbore struct {
	Diameter float64 `json:"diameter"`
	Depth    float64 `json:"depth"`
}

// Countersink is the cone in which a hole opens: its diameter at the face, mm, and the
// full angle of the cone.
type Countersink struct {
	Diameter float64
	Angle    s1.Angle
}

// Thread is what a scan shows of one, mm: its pitch, and the diameters that the standard
// profile of that pitch has about the wall's mean.
type Thread struct {
	Pitch float64 `json:"pitch"`
	Minor float64 `json:"minor"`
	Major float64 `json:"major"`
}

// WallOf is what is known of a cylinder that is the wall of a hole, a stud or the bore, by
// the noise of all such walls.
type WallOf struct {
	ID   string // of the cylinder
	Axis r3.Vector
	// Diameter, mm, with its standard uncertainty and the part of it that no residual
	// shows, is that of the hole.
	Diameter, DiameterU, UnseenU float64
	// PlaceCov is the covariance of the wall's place by itself, mm², along geom.Basis(Axis),
	// where its axis is held perpendicular to the face; LeanCov, rad², is that with which its axis
	// would lean if it were not, zero where too few rows of the wall tell it. Both are those
	// of Student's distribution with DOF degrees of freedom; 0 means the normal one.
	PlaceCov, LeanCov [2][2]float64
	DOF               float64
}

// Clocking of one hole of a bolt circle.
type Clocking struct {
	Hole        string
	Angle       s1.Angle // from the clocking hole, [0, 360)
	Nominal     s1.Angle
	Deviation   s1.Angle // against the nominal pattern turned to its best fit
	U           s1.Angle // standard uncertainty of Deviation
	FromOthers  s1.Angle // against the ring that the other holes make
	FromOthersU s1.Angle
	HasOthers   bool // false where fewer than three other holes remain

	// Radial is how far out from the pitch circle the hole lies, mm, with its
	// standard uncertainty; RadialFromOthers is out from the circle of the
	// other holes.
	Radial, RadialU, RadialFromOthers float64
}

// Spacing from one hole to the next one present.
type Spacing struct {
	From, To  string
	Angle     s1.Angle
	Nominal   s1.Angle
	Deviation s1.Angle
	U         s1.Angle
}

// Circle is a bolt circle.
type Circle struct {
	ID            string // "B1"...
	Holes         []string
	Face          string
	Centre        r3.Vector
	Axis          r3.Vector
	PitchDiameter float64
	PitchU        float64 // standard uncertainty, mm
	CentreCov     [2][2]float64
	// Nominal is the pattern that the circle is judged against: what it was meant as, where
	// that is not given, by the likeliest of Readings.
	Nominal     pattern.Reading
	Readings    []pattern.Reading
	DatumOffset s1.Angle
	Clocking    []Clocking
	Spacing     []Spacing
	Also        string // the pattern of which it is another reading
}

// Pattern is a regular pattern of holes that is no bolt circle.
type Pattern struct {
	ID            string // "G1"...
	Kind          pattern.Kind
	Holes         []string // by rows
	Face          string
	Columns, Rows int
	Pitch         [2]float64 // along rows and columns, mm; of a line the first
	PitchU        [2]float64 // standard uncertainty
	Direction     r3.Vector  // along a row
	Centre, Axis  r3.Vector
	// Deviations are how far the holes lie from the pattern that fits them best, along
	// Direction and a quarter turn counter-clockwise from it.
	Deviations []pattern.Deviation
	Also       string // the bolt circle of which it is another reading
}

// Frame is a datum frame: Z out of the material along the face's normal,
// origin where the bore or bolt circle meets the face, X through the clocking
// hole.
type Frame struct {
	Origin, X, Y, Z   r3.Vector
	Face, Axis, Clock string
}

// Measurement is what package bolt finds in one scan.
type Measurement struct {
	Holes   []Hole
	Studs   []Hole
	Circles []Circle
	// Patterns are those that are no bolt circle, by a square of four, which is both.
	Patterns []Pattern
	Frame    *Frame // nil where no face was found
	// Bore is the main bore as a hole of the mounting face: where it meets the face, its
	// axis held perpendicular to it, as a secondary datum's is (ISO 5459), where its wall allows
	// that; else where its own axis meets the face. Its ID and Wall are those of its
	// cylinder; where only its rim was seen it is one of Holes. nil where there is none.
	Bore *Hole
	// Walls are the cylinders that are walls of holes, studs and the bore, those of
	// Options.Only or not.
	Walls []WallOf
	// EdgeWidth is the width, as a standard deviation, mm, over which the scan
	// rounds edges, and EdgeWidthU its standard uncertainty; 0 where no rim on a
	// mesh showed it.
	EdgeWidth, EdgeWidthU float64
	// CorrelationLength is the distance, mm, over which what the mounting face's
	// neighbouring points share of their error falls to 1/e; 0 where they share
	// none, or the face is too small to tell.
	CorrelationLength float64
	// Warnings are complete sentences for a person.
	Warnings []string
}
