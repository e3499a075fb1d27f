package report

import (
	"github.com/golang/geo/r3"

	"spotface/bolt"
	"spotface/bolt/sizes"
)

// Schema is the name and version of the report's JSON form.
const Schema = "spotface-report/1"

// Report is what one scan shows, and, after Check, how it compares with a
// plan. Its JSON names are fixed. A field that does not apply, or that the scan
// did not show, is absent: zero in the numbers marked omitempty, nil in the
// pointers.
type Report struct {
	Schema string `json:"schema"`
	Part   string `json:"part,omitempty"` // the plan's
	Scan   Scan   `json:"scan"`
	Frame  *Frame `json:"frame,omitempty"`
	// InFrame says that coordinates are in Frame, not in the scan's own position.
	InFrame     bool         `json:"in_frame,omitempty"`
	Planes      []Plane      `json:"planes"`
	Cylinders   []Cylinder   `json:"cylinders"`
	Cones       []Cone       `json:"cones"`
	Spheres     []Sphere     `json:"spheres"`
	Holes       []Hole       `json:"holes"`
	Studs       []Hole       `json:"studs"`
	BoltCircles []BoltCircle `json:"bolt_circles"`
	// Patterns are regular patterns of holes that are no bolt circle.
	Patterns []HolePattern `json:"patterns,omitempty"`
	Results  []Result      `json:"results,omitempty"`
	Surface  *Surface      `json:"surface,omitempty"`
	// Bore is the main bore where it meets the mounting face, its axis held perpendicular to
	// it where its wall allows that: the frame's origin. Its id is that of its cylinder.
	Bore *Hole `json:"bore,omitempty"`
	// Only are the ids that the measurement was asked to keep; empty: all.
	Only []string `json:"only,omitempty"`
	// Scale compares the scan with lengths taken by hand; nil: there are none.
	Scale   *Scale  `json:"scale,omitempty"`
	Verdict Verdict `json:"verdict,omitempty"`
	// PlanChecksum is that of the plan which it was judged by.
	PlanChecksum string `json:"plan_checksum,omitempty"`
	// Decision is the rule behind the verdicts.
	Decision Rule `json:"decision,omitempty"`
	// Notes are complete sentences about how the plan was matched to the scan.
	Notes []string `json:"notes,omitempty"`

	// Printed says how a printed trial differs from its plan; nil: not asked for.
	Printed *Printed `json:"printed,omitempty"`
	// Record says by what and by whom it was made; nil: not said.
	Record *Record `json:"record,omitempty"`

	// JointCovariance is what the centres of holes share; nil: nothing.
	JointCovariance *JointCovariance `json:"joint_covariance,omitempty"`
}

// Vec is a point, mm, or a unit direction.
type Vec [3]float64

// R3 returns v as a vector.
func (v Vec) R3() r3.Vector { return r3.Vector{X: v[0], Y: v[1], Z: v[2]} }

func vec(v r3.Vector) Vec { return Vec{v.X, v.Y, v.Z} }

// Scan says what was read and what it is like.
type Scan struct {
	File              string   `json:"file,omitempty"`
	Format            string   `json:"format,omitempty"`
	Unit              string   `json:"unit,omitempty"`
	UnitSource        string   `json:"unit_source,omitempty"`
	SHA256            string   `json:"sha256,omitempty"` // of the file, hexadecimal
	FilePoints        int      `json:"file_points"`
	FileTriangles     int      `json:"file_triangles,omitempty"`
	Points            int      `json:"points"`
	Triangles         int      `json:"triangles,omitempty"`
	Spacing           float64  `json:"spacing,omitempty"`            // mm
	Noise             float64  `json:"noise,omitempty"`              // standard deviation, mm
	CorrelationLength float64  `json:"correlation_length,omitempty"` // mm
	Removed           Removed  `json:"removed"`
	Warnings          []string `json:"warnings"`
	// UnitCheck is nil where the file or the caller states the unit, and where nothing
	// speaks for another than the assumed one.
	UnitCheck *UnitCheck `json:"unit_check,omitempty"`
}

// Removed counts what was left out of the scan, and what was mended.
type Removed struct {
	Broken    int `json:"broken"`
	ZeroArea  int `json:"zero_area"`
	Duplicate int `json:"duplicate"`
	Rewound   int `json:"rewound"` // kept, but wound the other way
}

// Frame is the datum frame, in the scan's own position.
type Frame struct {
	Origin Vec    `json:"origin"`
	X      Vec    `json:"x"`
	Y      Vec    `json:"y"`
	Z      Vec    `json:"z"`
	Face   string `json:"face,omitempty"`
	Axis   string `json:"axis,omitempty"`
	Clock  string `json:"clock,omitempty"`
}

// Uncertainty holds the expanded uncertainties of one feature; zero means that
// it does not apply or is not known.
type Uncertainty struct {
	Diameter float64 `json:"diameter,omitempty"` // mm
	// DiameterUnseen is the part of Diameter that no residual shows: what fusing to
	// a mesh or a rounded rim may have moved.
	DiameterUnseen         float64 `json:"diameter_unseen,omitempty"`           // mm
	Width                  float64 `json:"width,omitempty"`                     // mm, of a slot
	Length                 float64 `json:"length,omitempty"`                    // mm, of a slot
	DirectionDeg           float64 `json:"direction_deg,omitempty"`             // of a slot
	PitchDiameter          float64 `json:"pitch_diameter,omitempty"`            // mm
	PitchDiameterOnPattern float64 `json:"pitch_diameter_on_pattern,omitempty"` // mm
	// Centre is the radius of the 95 % circle, mm, of a sphere's of the 95 % ball; XY that of
	// each coordinate in the datum frame, with the frame's own.
	Centre float64 `json:"centre,omitempty"`
	XY     float64 `json:"xy,omitempty"`
	// CentreCovariance is what Centre comes from, mm², x and y along geom.Basis of the
	// axis; CentreDOF are the degrees of freedom of the noise behind it, 0 for so many that
	// they do not matter.
	CentreCovariance *[2][2]float64 `json:"centre_covariance,omitempty"`
	CentreDOF        float64        `json:"centre_dof,omitempty"`
	// Point is that of an axis at its point or apex, mm: the radius of the 95 % circle.
	Point        float64 `json:"point,omitempty"`
	Apex         float64 `json:"apex,omitempty"`       // mm, along the axis
	AxisDeg      float64 `json:"axis_deg,omitempty"`   // 95 % cone about the axis
	Offset       float64 `json:"offset,omitempty"`     // mm, plane along its normal
	NormalDeg    float64 `json:"normal_deg,omitempty"` // 95 % cone about the normal
	HalfAngleDeg float64 `json:"half_angle_deg,omitempty"`
	Flatness     float64 `json:"flatness,omitempty"`     // mm
	Cylindricity float64 `json:"cylindricity,omitempty"` // mm
}

// Plane is a flat face; its normal points out of the material.
type Plane struct {
	ID       string   `json:"id"`
	Point    Vec      `json:"point"`
	Normal   Vec      `json:"normal"`
	RMS      float64  `json:"rms"`
	Flatness *float64 `json:"flatness,omitempty"`
	// FormOrNoise says that Flatness may all be noise that is correlated over so
	// much of the face that it looks like form.
	FormOrNoise bool        `json:"form_or_noise,omitempty"`
	Form        string      `json:"form,omitempty"`        // see segment.Form
	FormLength  float64     `json:"form_length,omitempty"` // mm, see segment.Form
	Area        float64     `json:"area,omitempty"`        // mm²
	Support     int         `json:"support"`               // points
	Uncertainty Uncertainty `json:"uncertainty"`
}

// Side of a curved surface that carries the material.
type Side string

// A bore is internal, a boss external.
const (
	Internal Side = "internal"
	External Side = "external"
)

// Cylinder is a bore, a hole's wall or a boss. Point is the foot of its points' centroid on
// its axis, from which it reaches by Extent along Axis.
type Cylinder struct {
	ID           string      `json:"id"`
	Side         Side        `json:"side"`
	Point        Vec         `json:"point"`
	Axis         Vec         `json:"axis"`
	Diameter     float64     `json:"diameter"`
	Extent       [2]float64  `json:"extent,omitzero"` // mm
	Length       float64     `json:"length,omitempty"`
	ArcDeg       float64     `json:"arc_deg,omitempty"`
	RMS          float64     `json:"rms"`
	Cylindricity *float64    `json:"cylindricity,omitempty"`
	FormOrNoise  bool        `json:"form_or_noise,omitempty"` // of Cylindricity, as a Plane's
	Form         string      `json:"form,omitempty"`          // see segment.Form
	FormLength   float64     `json:"form_length,omitempty"`   // mm, see segment.Form
	Support      int         `json:"support"`
	Uncertainty  Uncertainty `json:"uncertainty"`
	Corrected    *Corrected  `json:"corrected,omitempty"`
}

// Ends returns the ends of the cylinder's axis.
func (c *Cylinder) Ends() (from, to r3.Vector) {
	p, a := c.Point.R3(), c.Axis.R3()
	return p.Add(a.Mul(c.Extent[0])), p.Add(a.Mul(c.Extent[1]))
}

// Corrected holds the sizes of a feature as the plan corrects them: without the coat, at 20
// degrees C, to the scale that reference lengths set. It is nil where a plan corrects nothing.
type Corrected struct {
	XY            *[2]float64 `json:"xy,omitempty"`
	Diameter      float64     `json:"diameter,omitempty"`
	Width         float64     `json:"width,omitempty"`
	Length        float64     `json:"length,omitempty"`
	PitchDiameter float64     `json:"pitch_diameter,omitempty"`
	Uncertainty   Uncertainty `json:"uncertainty"`
}

// Cone is a countersink or a chamfer.
type Cone struct {
	ID           string      `json:"id"`
	Side         Side        `json:"side"`
	Apex         Vec         `json:"apex"`
	Point        Vec         `json:"point"` // on the axis, in the middle of what was seen
	Axis         Vec         `json:"axis"`
	HalfAngleDeg float64     `json:"half_angle_deg"`
	Length       float64     `json:"length,omitempty"`
	ArcDeg       float64     `json:"arc_deg,omitempty"`
	RMS          float64     `json:"rms"`
	Support      int         `json:"support"`
	Uncertainty  Uncertainty `json:"uncertainty"`
}

// Sphere is a ball or a dish.
type Sphere struct {
	ID          string      `json:"id"`
	Side        Side        `json:"side"`
	Centre      Vec         `json:"centre"`
	Diameter    float64     `json:"diameter"`
	RMS         float64     `json:"rms"`
	Support     int         `json:"support"`
	Uncertainty Uncertainty `json:"uncertainty"`
}

// Hole is a hole or a stud on a face.
type Hole struct {
	ID     string `json:"id"`
	Kind   string `json:"kind"`
	Centre Vec    `json:"centre"`
	Axis   Vec    `json:"axis"`
	// XY is of the centre in the datum frame; nil where the axis is not along its Z.
	XY        *[2]float64 `json:"xy,omitempty"`
	Diameter  float64     `json:"diameter,omitempty"`
	Width     float64     `json:"width,omitempty"`
	Length    float64     `json:"length,omitempty"`
	Direction *Vec        `json:"direction,omitempty"`
	Face      string      `json:"face,omitempty"`
	Wall      string      `json:"wall,omitempty"`
	EndWalls  []string    `json:"end_walls,omitempty"` // of a slot
	From      string      `json:"from,omitempty"`
	ArcDeg    float64     `json:"arc_deg,omitempty"`
	// ByPattern: too little of it was seen to find it by itself; it was looked for where its
	// pattern has a position.
	ByPattern bool `json:"by_pattern,omitempty"`
	// Through says that it was seen to go through, Depth where its floor begins, mm below
	// its face; of a hole whose end was not seen there is neither.
	Through     bool         `json:"through,omitempty"`
	Depth       float64      `json:"depth,omitempty"`
	Counterbore *Counterbore `json:"counterbore,omitempty"`
	Countersink *Countersink `json:"countersink,omitempty"`
	Thread      *Thread      `json:"thread,omitempty"`
	Uncertainty Uncertainty  `json:"uncertainty"`
	Corrected   *Corrected   `json:"corrected,omitempty"`
	// Sizes is what the maker may have meant by the diameter, or a slot's width. The
	// probability is from the mean of equal holes.
	Sizes []sizes.Candidate `json:"sizes,omitempty"`
}

// across is the diameter, or the width of a slot, and its expanded uncertainty, mm.
func (h *Hole) across() (d, u float64) {
	if h.Diameter > 0 {
		return h.Diameter, h.Uncertainty.Diameter
	}
	return h.Width, h.Uncertainty.Width
}

// Thread is the ripple of a tapped hole's wall as the scan shows it, mm.
type Thread = bolt.Thread

// Counterbore is the wide part that a hole opens in, a spot face too, mm.
type Counterbore = bolt.Counterbore

// Countersink is the cone that a hole opens in: its diameter at the face, mm, and its full
// angle.
type Countersink struct {
	Diameter float64 `json:"diameter"`
	AngleDeg float64 `json:"angle_deg"`
}

// walls lists the cylinders that are the hole's wall.
func (h *Hole) walls() []string { return append([]string{h.Wall}, h.EndWalls...) }

// BoltCircle is a ring of equal holes.
type BoltCircle struct {
	ID            string   `json:"id"`
	Holes         []string `json:"holes"`
	Face          string   `json:"face,omitempty"`
	Centre        Vec      `json:"centre"`
	Axis          Vec      `json:"axis"`
	PitchDiameter float64  `json:"pitch_diameter"`
	// PitchDiameterOnPattern is that of the holes that are on pattern, where some are not.
	PitchDiameterOnPattern float64 `json:"pitch_diameter_on_pattern,omitempty"`
	// OtherReadingOf is the pattern of which it is another reading.
	OtherReadingOf string            `json:"other_reading_of,omitempty"`
	Nominal        *Nominal          `json:"nominal,omitempty"`
	DatumOffsetDeg *float64          `json:"datum_offset_deg,omitempty"`
	Clocking       []Clocking        `json:"clocking"`
	Spacing        []Spacing         `json:"spacing"`
	Uncertainty    Uncertainty       `json:"uncertainty"`
	Sizes          []sizes.Candidate `json:"sizes,omitempty"` // of the pitch diameter
	// AboutBore is there where the circle is not about the main bore.
	AboutBore *AboutBore `json:"about_bore,omitempty"`
	Standouts *Standouts `json:"standouts,omitempty"` // nil: too few holes to tell
	Corrected *Corrected `json:"corrected,omitempty"`
}

// Nominal is the regular pattern a bolt circle was read as.
type Nominal struct {
	Positions  int       `json:"positions"`
	SpacingDeg float64   `json:"spacing_deg,omitempty"`
	FullRing   bool      `json:"full_ring"`
	Missing    []float64 `json:"missing,omitempty"` // degrees
	Confidence float64   `json:"confidence,omitempty"`
	// Readings are the likeliest patterns that the holes may have been meant as.
	Readings []Reading `json:"readings,omitempty"`
	// Offset are the holes that are off their even position on purpose.
	Offset []string `json:"offset,omitempty"`
	// Turns is the number of clockings at which the pattern looks the same, sizes
	// included: 6 for six equal holes.
	Turns int `json:"turns,omitempty"`
}

// Reading is one pattern that holes may have been meant as.
type Reading struct {
	What        string  `json:"what"`
	Probability float64 `json:"probability"`
}

// HolePattern is a rectangle, a grid or a line of holes.
type HolePattern struct {
	ID        string    `json:"id"`
	Kind      string    `json:"kind"`
	Holes     []string  `json:"holes"` // by rows
	Face      string    `json:"face,omitempty"`
	Pitch     []float64 `json:"pitch"` // mm, along rows and columns; of a line one
	PitchU    []float64 `json:"pitch_uncertainty,omitempty"`
	Rows      int       `json:"rows"`
	Columns   int       `json:"columns"`
	Centre    Vec       `json:"centre"`
	Direction Vec       `json:"direction"` // along a row
	// Deviations are how far the holes lie from the pattern that fits them best; two have none.
	Deviations []PatternDeviation `json:"deviations"`
	// OtherReadingOf is the bolt circle that the same holes are.
	OtherReadingOf string `json:"other_reading_of,omitempty"`
}

// PatternDeviation is how far a hole lies from its place in a pattern, along the rows and
// the columns, mm; Uncertainty is the radius of the circle that holds it with 95 %.
type PatternDeviation struct {
	Hole        string     `json:"hole"`
	XY          [2]float64 `json:"xy"`
	Uncertainty float64    `json:"uncertainty,omitempty"`
}

// Clocking is where one hole sits on its bolt circle.
type Clocking struct {
	Hole                     string   `json:"hole"`
	AngleDeg                 float64  `json:"angle_deg"`
	NominalDeg               *float64 `json:"nominal_deg,omitempty"`
	DeviationDeg             *float64 `json:"deviation_deg,omitempty"`
	UncertaintyDeg           float64  `json:"uncertainty_deg,omitempty"`
	FromOthersDeg            *float64 `json:"from_others_deg,omitempty"`
	FromOthersUncertaintyDeg float64  `json:"from_others_uncertainty_deg,omitempty"`
	// Radial is how far out from the pitch circle the hole lies, mm;
	// RadialFromOthers the same from the circle of the other holes.
	Radial            float64  `json:"radial"`
	RadialUncertainty float64  `json:"radial_uncertainty,omitempty"`
	RadialFromOthers  *float64 `json:"radial_from_others,omitempty"`
	// FromPatternDeg is how far the hole is turned from the ring that the other holes on
	// pattern make, FromPatternOut how far out of it the hole lies, mm; nil where too few
	// holes make a ring of their own. OnPattern says that it is one of them.
	FromPatternDeg            *float64 `json:"from_pattern_deg,omitempty"`
	FromPatternUncertaintyDeg float64  `json:"from_pattern_uncertainty_deg,omitempty"`
	FromPatternOut            *float64 `json:"from_pattern_out,omitempty"`
	FromPatternOutUncertainty float64  `json:"from_pattern_out_uncertainty,omitempty"`
	OnPattern                 bool     `json:"on_pattern"`
	Verdict                   Verdict  `json:"verdict,omitempty"`
}

// Spacing is the angle from one hole to the next one present.
type Spacing struct {
	From           string   `json:"from"`
	To             string   `json:"to"`
	AngleDeg       float64  `json:"angle_deg"`
	NominalDeg     *float64 `json:"nominal_deg,omitempty"`
	DeviationDeg   *float64 `json:"deviation_deg,omitempty"`
	UncertaintyDeg float64  `json:"uncertainty_deg,omitempty"`
	Verdict        Verdict  `json:"verdict,omitempty"`
}

// Standouts tells which holes of a circle spoil its pattern.
type Standouts struct {
	Holes []Standout `json:"holes"` // none: all agree, or all scatter
	// Scatter is true where the holes leave the pattern by more than the scan's
	// uncertainty and no few of them explain it.
	Scatter bool `json:"scatter"`
	// RestScatter is the root mean square, mm, along and across, by which the
	// rest leave the pattern, where that is more than their uncertainty; zero
	// where they agree with it.
	RestScatter float64 `json:"rest_scatter,omitempty"`
}

// Standout is a hole that does not sit where the rest of its circle puts it.
type Standout struct {
	Hole string `json:"hole"`
	// Deg is how far it is turned from its place, counter-clockwise positive,
	// and Along the same as a length along the circle, mm; both with their
	// expanded uncertainty.
	Deg    float64 `json:"deg"`
	DegU   float64 `json:"deg_uncertainty"`
	Along  float64 `json:"along"`
	AlongU float64 `json:"along_uncertainty"`
	// Out is how far it lies outward of the circle of the rest, mm.
	Out  float64 `json:"out"`
	OutU float64 `json:"out_uncertainty"`
	// Turned and Shifted say which of the two is more than its uncertainty.
	Turned  bool `json:"turned"`
	Shifted bool `json:"shifted"`
}

// Surface compares the scanned surface with the shapes found in it.
type Surface struct {
	// Unassigned is the share, 0 to 1, that belongs to no feature: of the area
	// on a mesh, of the points in a cloud.
	Unassigned *float64 `json:"unassigned,omitempty"`
	// WithinBand is the share of the points on features that deviate by Band, mm, at most, or
	// from Lower to Upper, mm, where the plan has a band; RMS, mm, that of their deviations;
	// Percentiles, mm, of the size of these, by per cent. Package deviation fills them.
	Band        float64            `json:"band,omitempty"`
	Lower       *float64           `json:"lower,omitempty"`
	Upper       *float64           `json:"upper,omitempty"`
	WithinBand  *float64           `json:"within_band,omitempty"`
	RMS         *float64           `json:"rms,omitempty"`
	Percentiles map[string]float64 `json:"percentiles,omitempty"`
}
