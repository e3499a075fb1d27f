package report

import (
	"math"
	"slices"
)

// Verdict of one characteristic or of a whole part. Empty means not judged.
type Verdict string

// A single characteristic may be any of the four; a whole part is never
// missing, but nonconforming where something is.
const (
	Conforming    Verdict = "conforming"
	Nonconforming Verdict = "nonconforming"
	Indeterminate Verdict = "indeterminate"
	Missing       Verdict = "missing"
)

// Characteristic names what a Result judges.
type Characteristic string

// The characteristics that a plan can ask for.
const (
	Diameter         Characteristic = "diameter"
	PitchDiameter    Characteristic = "pitch_diameter"
	ClockingAngle    Characteristic = "clocking"
	SpacingAngle     Characteristic = "spacing"
	Position         Characteristic = "position"
	Flatness         Characteristic = "flatness"
	Cylindricity     Characteristic = "cylindricity"
	Perpendicularity Characteristic = "perpendicularity"
	Distance         Characteristic = "distance" // of a reference length
	Presence         Characteristic = "presence" // a planned feature is there at all
)

// Result is one judged characteristic. Deviation is measured less nominal;
// Lower and Upper are the plan's band, that is the limits of the deviation;
// a side without a limit is absent.
type Result struct {
	// Feature is the plan's id; a hole of a circle is "B1/H3" by its place in the plan.
	Feature        string         `json:"feature"`
	Matched        string         `json:"matched,omitempty"` // the scan's id where it differs
	Characteristic Characteristic `json:"characteristic"`
	Nominal        *float64       `json:"nominal,omitempty"`
	Measured       *float64       `json:"measured,omitempty"`
	Deviation      *float64       `json:"deviation,omitempty"`
	Lower          *float64       `json:"lower,omitempty"`
	Upper          *float64       `json:"upper,omitempty"`
	Unit           string         `json:"unit,omitempty"` // "mm" or "deg"
	Uncertainty    float64        `json:"uncertainty,omitempty"`
	// FromPlan is the part of Uncertainty, expanded, that the plan's scanner
	// figures put in and no denser scan takes out.
	FromPlan float64 `json:"uncertainty_from_plan,omitempty"`
	// CoverageFactor is Uncertainty over the standard uncertainty that Budget adds
	// up to: 2, more for few degrees of freedom, and more for a position that is
	// not well above its uncertainty (up to 2.75, or with Student's t more; a little
	// under 2 where it lies along the direction that is known better).
	CoverageFactor float64 `json:"coverage_factor,omitempty"`
	// EffectiveDoF is the degrees of freedom behind the coverage factor, absent
	// where they do not matter (those of a position's scan noise do); Budget is what
	// the uncertainty is made of.
	EffectiveDoF float64      `json:"effective_dof,omitempty"`
	Budget       []BudgetLine `json:"budget,omitempty"`
	// Bonus is what the hole's size adds to Upper at maximum material condition, mm.
	Bonus float64 `json:"bonus,omitempty"`
	// Probability, 0 to 1, is that of the true value lying in the band.
	Probability *float64 `json:"probability,omitempty"`
	Verdict     Verdict  `json:"verdict"`
	// Change is from another scan; nil: not asked for, or one of the two does not show it.
	Change *Change `json:"change,omitempty"`
	// Why says in a sentence what was in the way where there is no number, or where
	// the number tells little.
	Why string `json:"why,omitempty"`
}

// The exit codes of a command that judges or measures.
const (
	ExitConforming    = 0 // all conforming, or measured without a plan
	ExitNonconforming = 1 // something nonconforming or missing
	ExitUsage         = 2 // bad usage or unreadable input; never from a report
	ExitIndeterminate = 3 // nothing nonconforming, something indeterminate
)

// ExitCode returns the exit code that a report asks for.
func ExitCode(rep *Report) int {
	switch rep.Verdict {
	case Nonconforming, Missing:
		return ExitNonconforming
	case Indeterminate:
		return ExitIndeterminate
	}
	return ExitConforming
}

// Worst returns the verdict of a whole from its parts: nonconforming where one
// of them is nonconforming or missing, else indeterminate where one of them is,
// else conforming. It is empty where nothing was judged.
func Worst(results []Result) Verdict {
	some := func(v Verdict) bool {
		return slices.ContainsFunc(results, func(r Result) bool { return r.Verdict == v })
	}
	switch {
	case some(Nonconforming) || some(Missing):
		return Nonconforming
	case some(Indeterminate):
		return Indeterminate
	case some(Conforming):
		return Conforming
	}
	return ""
}

// Names of the sources of uncertainty, as a budget prints them. A reference length
// is "reference diameter C1", by what was taken of what.
const (
	SourceNoise       = "scan noise"
	SourceSmoothing   = "smoothing by the scan"
	SourceDatum       = "datum"
	SourceSize        = "size of the hole" // by the bonus at maximum material condition
	SourceLength      = "scanner length error"
	SourceCoating     = "coating thickness"
	SourceTemperature = "part temperature"
	SourceExpansion   = "expansion coefficient"
	SourceScatter     = "disagreement of reference lengths"
	SourceReference   = "reference " // and what it is of
)

// BudgetLine is one source of a result's uncertainty.
type BudgetLine struct {
	Source       string  `json:"source"`
	Value        float64 `json:"value"`
	Unit         string  `json:"unit,omitempty"`
	Standard     float64 `json:"standard_uncertainty"`
	Distribution string  `json:"distribution"`
	DoF          float64 `json:"dof,omitempty"` // absent: so many that they do not matter
	Sensitivity  float64 `json:"sensitivity"`   // unit of the result a unit of the source
	Contribution float64 `json:"contribution"`  // to the standard uncertainty, in the result's unit
	Share        float64 `json:"share"`         // of the result's variance, 0 to 1
}

// FromScan reports whether a better scan makes the source smaller.
func (l *BudgetLine) FromScan() bool {
	return l.Source == SourceNoise || l.Source == SourceSmoothing || l.Source == SourceDatum ||
		l.Source == SourceSize
}

// Scale compares the scan's scale with lengths that were taken by hand.
type Scale struct {
	// Factor is the lengths by hand over the scanned ones, the weighted mean,
	// with its expanded uncertainty: of those that set the scale, where some do,
	// else of all.
	Factor         float64 `json:"factor"`
	Uncertainty    float64 `json:"uncertainty"`
	CoverageFactor float64 `json:"coverage_factor"`
	EffectiveDoF   float64 `json:"effective_dof,omitempty"`
	// Set says that the lengths in Results are multiplied by Factor. Factor then
	// holds the temperature's expansion, too.
	Set bool `json:"set"`
	// Agrees is false where a length that checks the scale differs by more than
	// the uncertainty of the difference, or the lengths from each other by more
	// than chance allows (ChiSquared beyond its 95 % point).
	Agrees     bool          `json:"agrees"`
	ChiSquared float64       `json:"chi_squared,omitempty"`
	DoF        int           `json:"dof,omitempty"` // of ChiSquared; absent with one length
	Lengths    []ScaleLength `json:"lengths"`
}

// ScaleLength is one length by hand against the scan.
type ScaleLength struct {
	Of       Characteristic `json:"characteristic"`
	Features []string       `json:"features"`          // of the plan
	Matched  []string       `json:"matched,omitempty"` // of the scan, where they differ
	Value    float64        `json:"value"`             // by hand, mm, expanded uncertainty U
	U        float64        `json:"value_uncertainty"`
	// Scanned is the scan's length, coat and temperature corrected; of a length
	// that only checks, to the scale that others set.
	Scanned            float64 `json:"scanned"`
	ScannedUncertainty float64 `json:"scanned_uncertainty"`
	Difference         float64 `json:"difference"` // scanned less by hand
	Uncertainty        float64 `json:"uncertainty"`
	// En is |Difference| over its expanded uncertainty, the E_n number of ISO
	// 13528: above 1 the two disagree.
	En       float64 `json:"en"`
	Agrees   bool    `json:"agrees"`
	SetScale bool    `json:"set_scale,omitempty"`
}

// Change is how a characteristic differs from what another scan shows of it.
type Change struct {
	By float64 `json:"by"` // this scan's measured value less the other's, in the result's unit
	// Uncertainty is that of By, expanded: both results' together, as if they were independent.
	// What scans share (a coat, the scanner's scale) makes it too large, so that a change that
	// is Beyond it is one.
	Uncertainty float64 `json:"uncertainty"`
	Beyond      bool    `json:"beyond"` // By is more than Uncertainty
}

// Since returns a copy of a judged report whose results say how they differ from those of
// another scan, judged by the same plan: of the same part before, say. rep is not changed.
func (rep *Report) Since(before *Report) *Report {
	type of struct {
		feature string
		what    Characteristic
	}
	was := make(map[of]*Result)
	for i := range before.Results {
		r := &before.Results[i]
		was[of{r.Feature, r.Characteristic}] = r
	}
	out := *rep
	out.Results = make([]Result, len(rep.Results))
	for i, r := range rep.Results {
		r.Change = nil
		if w := was[of{r.Feature, r.Characteristic}]; w != nil && w.Measured != nil &&
			r.Measured != nil &&
			w.Uncertainty > 0 && r.Uncertainty > 0 {
			c := Change{By: *r.Measured - *w.Measured, Uncertainty: math.Hypot(r.Uncertainty, w.Uncertainty)}
			c.Beyond = math.Abs(c.By) > c.Uncertainty
			r.Change = &c
		}
		out.Results[i] = r
	}
	return &out
}

// Judgement is how a measured part compares with a plan, as report/check finds it.
type Judgement struct {
	Part         string // the plan's
	Revision     string // the plan's
	PlanChecksum string // the plan's
	// Results are the judged characteristics, in the plan's order; Verdict is that of
	// the whole, by the rule of Decision.
	Results  []Result
	Verdict  Verdict
	Decision Rule
	// Notes are complete sentences about how the plan was matched to the scan.
	Notes []string
	// Warnings are complete sentences about plan and scan that may make the verdicts wrong.
	Warnings []string
	// Scale compares the scan with lengths taken by hand; nil: there are none.
	Scale *Scale
	// Frame is the datum frame where the plan wants it, and BoltCircles are the
	// report's, those that the plan names counted and clocked as it has them.
	Frame       *Frame
	BoltCircles []BoltCircle
	// Corrected holds by id the sizes of holes, studs, cylinders and bolt circles as the plan
	// corrects them, or makes them less sure.
	Corrected map[string]*Corrected
}

// Judged returns a copy of rep that shows the judgement j of it: what text, JSON and the
// other outputs are made from. rep is not changed.
func (rep *Report) Judged(j *Judgement) *Report {
	out := *rep
	out.Part, out.Results, out.Verdict, out.Decision = j.Part, j.Results, j.Verdict, j.Decision
	if len(j.Warnings) > 0 {
		out.Scan.Warnings = slices.Concat(j.Warnings, rep.Scan.Warnings)
	}
	if rep.Record != nil || j.Revision != "" {
		out.Record = &Record{}
		if rep.Record != nil {
			*out.Record = *rep.Record
		}
		out.Record.Revision = j.Revision
	}
	out.PlanChecksum = j.PlanChecksum
	out.Notes, out.Scale, out.Frame = j.Notes, j.Scale, j.Frame
	hole := func(h *Hole) { h.Corrected = j.Corrected[h.ID] }
	out.Holes, out.Studs = changed(rep.Holes, hole), changed(rep.Studs, hole)
	out.place()
	if rep.Bore != nil {
		out.Bore = &changed([]Hole{*rep.Bore}, hole)[0]
	}
	out.Cylinders = changed(rep.Cylinders, func(c *Cylinder) { c.Corrected = j.Corrected[c.ID] })
	out.BoltCircles = changed(j.BoltCircles, func(c *BoltCircle) { c.Corrected = j.Corrected[c.ID] })
	return &out
}
