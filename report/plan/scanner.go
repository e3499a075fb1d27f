package plan

import (
	"spotface/report"
	"spotface/report/budget"
)

// Scanner is what a plan says of the scanner and of how the part was scanned:
// what a scan does not show of itself. Its zero value adds nothing.
type Scanner struct {
	// Noise is the standard deviation of a point, mm, CorrelationLength, mm, how
	// far along the surface neighbours share it, and Spacing, mm, how far apart
	// points lie. They serve a forecast; a check takes the scan's own.
	Noise, CorrelationLength, Spacing float64
	Length                            LengthError
	Coating                           Coating
	Temperature                       *Temperature // nil: not said, the part is at 20 degrees C
	ReferenceLengths                  []ReferenceLength
}

// LengthError is the scanner's own: a length L reads wrong by something of the
// standard uncertainty A + B L. A, mm, is a length's own; B, mm a mm, is common
// to all lengths of a scan, an error of its scale.
type LengthError struct {
	A, B         float64
	Distribution budget.Distribution // empty: normal
	DoF          float64             // zero: so many that they do not matter
}

// Coating is a coat on the part. A hole reads 2 t small and a boss 2 t large.
type Coating struct {
	Thickness float64 // t, mm
	StandardU budget.Standard
}

// Temperature is that of the part while it was scanned, degrees C. The plan's
// sizes hold at 20 degrees C (ISO 1:2022).
type Temperature struct {
	Part       float64
	StandardU  budget.Standard
	Expansion  float64 // coefficient of linear expansion, 1/K
	ExpansionU budget.Standard
}

// ReferenceLength is a length of the part that was taken otherwise, with a
// caliper or a micrometer.
type ReferenceLength struct {
	// Of is report.Diameter or report.PitchDiameter of one feature, or report.Distance between two.
	Of report.Characteristic
	// Features are ids of the plan. A hole of a circle is "B1/4", its place
	// counted from the circle's first, which is 1.
	Features  []string
	Value     float64 // mm, at 20 degrees C as all sizes of the plan
	StandardU budget.Standard
	// SetScale says that the scan's scale is to be set by this length; else the
	// scale is only checked against it.
	SetScale bool
}
