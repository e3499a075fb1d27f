package plan

import (
	"cmp"

	"spotface/report"
	"spotface/report/budget"
	"spotface/report/wording"
)

// Scanner is what a plan says of the scanner and of how the part was scanned:
// what a scan does not show of itself. Its zero value adds nothing. Noise, CorrelationLength
// and Spacing serve a forecast; a check takes the scan's own.
type Scanner struct {
	Noise             float64           `yaml:"noise" unit:"length"`
	CorrelationLength float64           `yaml:"correlation_length" unit:"length"`
	Spacing           float64           `yaml:"spacing" unit:"length" over:"0"`
	Length            LengthError       `yaml:"length"`
	Coating           Coating           `yaml:"coating"`
	Temperature       *Temperature      `yaml:"temperature"`
	ReferenceLengths  []ReferenceLength `yaml:"reference_lengths"`
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

// As a file has them. What is nil is not given.

type lengthErrorFile struct {
	out          *LengthError
	A            *float64 `yaml:"a" unit:"length"`
	B            *float64 `yaml:"b"`
	Distribution *string  `yaml:"distribution"`
	K            *float64 `yaml:"k" over:"0"`
	Confidence   *float64 `yaml:"confidence" unit:"%"`
	DoF          *float64 `yaml:"dof"`
}

type coatingFile struct {
	out       *Coating
	Thickness float64 `yaml:"thickness" unit:"length"`
	stated
}

type temperatureFile struct {
	out        *Temperature
	Part       *float64  `yaml:"part" unit:"deg C"`
	Expansion  *estimate `yaml:"expansion" unit:"1/K"`
	ExpansionU *float64  `yaml:"expansion_u" unit:"1/K"`
	stated
}

type referenceFile struct {
	out           *ReferenceLength
	Diameter      []string `yaml:"diameter"`
	PitchDiameter []string `yaml:"pitch_diameter"`
	Distance      []string `yaml:"distance"`
	Value         float64  `yaml:"value" unit:"length" over:"0"`
	SetScale      bool     `yaml:"set_scale"`
	stated
}

// estimate is a number, or one with how sure it is: {value, u}.
type estimate struct {
	Value *float64 `yaml:"value"`
	stated
	keys bool // it says how sure it is
}

// stated are the keys that say how sure a value is, as its source states it: u, or
// half_width with distribution, or expanded with k or confidence.
type stated struct {
	U            *float64 `yaml:"u" unit:"same" min:"0"`
	HalfWidth    *float64 `yaml:"half_width" unit:"same" min:"0"`
	Expanded     *float64 `yaml:"expanded" unit:"same" min:"0"`
	Distribution *string  `yaml:"distribution"`
	K            *float64 `yaml:"k" over:"0"`
	Confidence   *float64 `yaml:"confidence" unit:"%" min:"0"`
	DoF          *float64 `yaml:"dof" min:"0"`
}

func (l *LengthError) file() form     { return &lengthErrorFile{out: l} }
func (c *Coating) file() form         { return &coatingFile{out: c} }
func (t *Temperature) file() form     { return &temperatureFile{out: t} }
func (l *ReferenceLength) file() form { return &referenceFile{out: l} }

// or0 is the number, zero where it is not given.
func or0(x *float64) float64 {
	if x == nil {
		return 0
	}
	return *x
}

func (f *lengthErrorFile) convert(v *validator, path string) {
	if f.A == nil && f.B == nil {
		return
	}
	// a + b L takes the place of the number that the other sources give.
	one := 1.0
	s := stated{Distribution: f.Distribution, K: f.K, Confidence: f.Confidence, DoF: f.DoF}
	switch {
	case f.K != nil || f.Confidence != nil && f.Distribution == nil:
		s.Expanded = &one
	case f.Distribution != nil:
		s.HalfWidth = &one
	default:
		s.U = &one
	}
	u := s.standard(v, path, "scanner length", 1)
	*f.out = LengthError{A: or0(f.A) * u.U, B: or0(f.B) * u.U, Distribution: u.Distribution,
		DoF: u.DoF}
}

func (f *coatingFile) convert(v *validator, path string) {
	*f.out = Coating{f.Thickness, f.standard(v, path, "coating", v.mm)}
}

func (f *temperatureFile) convert(v *validator, path string) {
	e := f.Expansion
	v.fault(e != nil && e.keys && f.ExpansionU != nil, path+".expansion_u", "temperature has "+
		"expansion_u beside an expansion with its own uncertainty: leave one of them")
	v.fault(f.Part == nil, path, "temperature has no part: add the part's temperature while it was "+
		"scanned, degrees C")
	v.fault(e == nil, path, "temperature has no expansion: add the coefficient of the part's "+
		"material, per kelvin, as in 11.5e-6 for steel")
	v.fault(e != nil && e.Value == nil, path+".expansion", "expansion has no value: add it")
	v.fault(e != nil && !e.keys && f.ExpansionU == nil, path, "temperature has no expansion_u: "+
		"add the standard uncertainty of the expansion, per kelvin, as in 1e-6")
	if v.err != nil {
		return
	}
	*f.out = Temperature{Part: *f.Part, Expansion: *e.Value,
		StandardU: f.standard(v, path, "temperature", 1)}
	if e.keys {
		f.out.ExpansionU = e.standard(v, path+".expansion", "expansion", 1)
	} else {
		f.out.ExpansionU = budget.Standard{U: *f.ExpansionU, Distribution: budget.Normal}
	}
}

func (f *referenceFile) convert(v *validator, path string) {
	l := ReferenceLength{Value: f.Value, SetScale: f.SetScale}
	for i, names := range [][]string{f.Diameter, f.PitchDiameter, f.Distance} {
		of := []report.Characteristic{report.Diameter, report.PitchDiameter, report.Distance}[i]
		v.fault(names != nil && l.Of != "", path+"."+string(of), "a reference length has both %s "+
			"and %s: give each length an entry of its own", l.Of, of)
		if names != nil {
			l.Of, l.Features = of, names
		}
	}
	v.fault(l.Of == "", path, "a reference length names no feature: add diameter: C1, "+
		"pitch_diameter: B1, or distance: [H1, X1]")
	v.fault(f.Value == 0, path, "a reference length has no value: add the length that you read")
	l.StandardU = f.standard(v, path, "reference length", v.mm)
	*f.out = l
}

var distributions = map[string]budget.Distribution{"normal": budget.Normal,
	"rectangular": budget.Rectangular, "triangular": budget.Triangular,
	"arcsine": budget.Arcsine, "u-shaped": budget.Arcsine}

// standard is what the keys come to, times scale.
func (s *stated) standard(v *validator, path, what string, scale float64) (out budget.Standard) {
	word := ""
	if s.Distribution != nil {
		word = *s.Distribution
	}
	distribution := distributions[word]
	key, last := "", ""
	for i, x := range []*float64{s.U, s.HalfWidth, s.Expanded} {
		if x != nil {
			last = []string{"u", "half_width", "expanded"}[i]
			key = cmp.Or(key, last)
		}
	}
	d, k, confidence := s.Distribution != nil, s.K != nil, s.Confidence != nil
	normal, half, expanded := distribution == budget.Normal, key == "half_width", key == "expanded"
	v.fault(confidence && !(or0(s.Confidence) >= 50 && or0(s.Confidence) < 100),
		path+".confidence", "confidence is %s, need per cent from 50 to below 100, as in 95",
		wording.Short(or0(s.Confidence)))
	v.fault(s.DoF != nil && or0(s.DoF) < 1, path+".dof", "dof is %s, need 1 or more degrees of "+
		"freedom: n readings have n - 1", wording.Short(or0(s.DoF)))
	v.fault(d && distribution == "", path+".distribution", "distribution is %q, need rectangular, "+
		"triangular, arcsine (the same as u-shaped) or normal", word)
	v.fault(key == "", path, "%s does not say how sure it is: add u (a standard uncertainty), "+
		"half_width with distribution, or expanded with k", what)
	v.fault(key != last, path+"."+last, "%s has both %s and %s: leave one of them", what, key, last)
	v.fault(d && (key == "u" || expanded && !normal), path+".distribution",
		"%s: distribution goes with half_width, not with %s: leave it out", what, key)
	v.fault(k && !expanded, path+".k", "%s: k goes with expanded, not with %s: leave it out", what,
		key)
	v.fault(confidence && (key == "u" || half && !normal), path+".confidence", "%s: confidence goes "+
		"with expanded, or with a half_width of distribution normal: leave it out", what)
	v.fault(half && !d, path+".half_width", "%s has half_width but no distribution: add "+
		"rectangular (anywhere in it), triangular (the middle likelier), arcsine (it swings "+
		"between the ends) or normal", what)
	v.fault(half && normal && !confidence, path+".half_width", "%s has a normal distribution, which "+
		"has no end: add the confidence that the half_width holds, as in confidence: 95", what)
	v.fault(expanded && !k && !confidence, path+".expanded", "%s has expanded but no k: add the "+
		"coverage factor, as in k: 2, or confidence: 95", what)
	v.fault(k && confidence, path+".confidence", "%s has both k and confidence: leave one of them",
		what)
	switch {
	case v.err != nil:
		return out
	case s.U != nil:
		out = budget.Standard{U: *s.U, Distribution: budget.Normal}
	case k:
		out = budget.FromExpanded(*s.Expanded, *s.K)
	case confidence: // one of both numbers is zero
		out = budget.FromConfidence(or0(s.HalfWidth)+or0(s.Expanded), *s.Confidence/100, or0(s.DoF))
	default:
		out, _ = budget.FromHalfWidth(*s.HalfWidth, distribution)
	}
	out.U, out.DoF = out.U*scale, or0(s.DoF)
	return out
}
