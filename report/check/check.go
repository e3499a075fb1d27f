// Package check judges a measured part against a plan. Check is a pure function: a report,
// with its uncertainties and covariances, and a plan go in, a judgement comes out.
//
// Lengths are millimetres, angles degrees. It measures nothing, and a report read back
// from JSON judges as the scan did.
//
// Sources: decisions follow ISO 14253-1:2017 and JCGM 106:2012, uncertainties JCGM
// 100:2008 (GUM), positions ASME Y14.5.
package check

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/golang/geo/r1"

	"spotface/mesh"
	"spotface/report"
	"spotface/report/budget"
	"spotface/report/plan"
	"spotface/report/wording"
)

// Check judges a measured part against a plan. It matches the plan's features to the
// scan's, puts the datum frame where the plan wants it, counts clocking from the plan's
// first hole against the plan's angles, and judges every characteristic that the plan
// asks for. One that the scan does not show is missing, never skipped. Nothing is
// changed: rep.Judged shows the judgement of the report.
//
// The report must be in the scan's own position, and not judged already. An error means
// that nothing could be judged; a bad part is not an error.
func Check(p *plan.Plan, rep *report.Report) (*report.Judgement, error) {
	c, err := newChecker(p, rep)
	if err != nil {
		return nil, err
	}
	sum, err := p.Checksum()
	if err != nil {
		return nil, err
	}
	scale := c.scale()
	for i := range c.plan.BoltCircles {
		c.circle(i)
	}
	c.single()
	if len(c.results) == 0 {
		return nil, fmt.Errorf("check: the plan %s gives no band to judge by: add a band, a zone "+
			"or a flatness", p.File)
	}
	c.noteCorrections()
	c.compareUnits()
	if p.Mates {
		c.note("The scan is held against the plan's mirror image: it is of the part that goes " +
			"onto the planned one, looking at its mating face.")
	}
	return &report.Judgement{Part: p.Part, Revision: p.Revision, PlanChecksum: sum,
		Results: c.results, Verdict: report.Worst(c.results), Decision: cmp.Or(p.Decision, report.Guarded), Notes: c.notes,
		Warnings: c.warnings, Scale: scale, Frame: c.frame, BoltCircles: c.circled,
		Corrected: c.corrected()}, nil
}

// newChecker matches the plan, mirrored if it says that it mates, to the report.
func newChecker(p *plan.Plan, rep *report.Report) (*checker, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	switch {
	case rep.InFrame:
		return nil, errors.New("check: the report is in its datum frame: give the one in the " +
			"scan's own position")
	case rep.Verdict != "":
		return nil, errors.New("check: the report was judged already: give the one that was " +
			"measured without a plan")
	}
	if p.Mates {
		p = p.Mirrored()
	}
	c := &checker{match: matchPlan(p, rep), circled: slices.Clone(rep.BoltCircles)}
	c.reclockAll()
	return c, nil
}

// checker judges the features of a match one by one.
type checker struct {
	*match
	circled []report.BoltCircle // the report's, those of the plan counted as it has them
	lengths *lengths
	results []report.Result

	warnings []string
}

// compareUnits warns of a scan that was read in another unit than the plan speaks of, unless
// the plan says that scans are.
func (c *checker) compareUnits() {
	mine := string(cmp.Or(c.plan.Unit, mesh.Millimetre))
	scans, read, source := string(c.plan.ScanUnit), c.rep.Scan.Unit, c.rep.Scan.UnitSource
	switch {
	case read == "":
	case scans != "" && scans != read:
		c.warnings = append(c.warnings, fmt.Sprintf("The plan says that the scan's unit is %s "+
			"(scan_unit), and it was read in %s (%s): one of them is wrong.", scans, read, source))
	case scans == "" && mine != read:
		c.warnings = append(c.warnings, fmt.Sprintf("The plan's unit is %s, and the scan was "+
			"read in %s (%s): if that is meant, write scan_unit: %s into the plan.", mine, read, source, read))
	}
}

// matchedID is the scan's id where it differs from the plan's.
func matchedID(planID, scanID string) string {
	if planID == scanID {
		return ""
	}
	return scanID
}

// missing adds a result for each characteristic of a feature that the scan does
// not show.
func (c *checker) missing(feature, why string, what ...report.Characteristic) {
	if len(what) == 0 {
		what = []report.Characteristic{report.Presence}
	}
	for _, w := range what {
		c.lacks(report.Result{Feature: feature, Characteristic: w}, why)
	}
}

// lacks adds the result of what the scan does not show.
func (c *checker) lacks(r report.Result, why string) {
	r.Verdict, r.Why = report.Missing, why
	c.results = append(c.results, r)
}

// sureness is how sure a judged number is said to be.
type sureness struct {
	standard    budget.Standard
	expanded    float64
	probability float64 // of the true value lying in the band
}

// judge adds the result of a number that depends on src, nil where the scan does
// not show how sure it is.
func (c *checker) judge(r report.Result, measured, nominal float64, src *sources,
	band r1.Interval) report.Verdict {
	var s sureness
	if src != nil {
		u := src.combined()
		s = sureness{u, u.Expanded(), ConformanceProbability(measured-nominal, u, band)}
	}
	return c.state(r, measured, nominal, src, s, band)
}

// state adds a result with what is said of it; nothing is where u is zero.
func (c *checker) state(r report.Result, measured, nominal float64, src *sources, s sureness,
	band r1.Interval) report.Verdict {
	dev := measured - nominal
	r.Measured, r.Nominal, r.Deviation = new(measured), new(nominal), new(dev)
	r.Lower, r.Upper = limit(band.Lo), limit(band.Hi)
	if r.Unit == "" {
		r.Unit = "mm"
	}
	r.Verdict = Decide(dev, s.expanded, band, c.plan.Decision)
	if u := s.standard; s.expanded > 0 {
		r.Uncertainty, r.CoverageFactor, r.EffectiveDoF = s.expanded, s.expanded/u.U, u.DoF
		r.Budget = src.lines()
		r.FromPlan = r.CoverageFactor * fromPlan(r.Budget)
		r.Probability = new(s.probability)
	} else {
		r.Why = "the scan does not show how sure this number is"
	}
	c.results = append(c.results, r)
	return r.Verdict
}

// angle judges an angle, which depends on nothing but the scan's noise: neither a
// coat nor the scale turns anything.
func (c *checker) angle(r report.Result, nominal, off, expanded float64,
	band *r1.Interval) report.Verdict {
	r.Unit = "deg"
	src := &sources{}
	if !src.seen("", nominal+off, "deg", expanded, 0, 1) {
		src = nil
	}
	return c.judge(r, nominal+off, nominal, src, *band)
}

func limit(v float64) *float64 {
	if math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// upTo is the band of a form error or a zone: it has no lower limit, since no
// part is too good.
func upTo(top float64) r1.Interval { return r1.Interval{Lo: math.Inf(-1), Hi: top} }

// length judges a length.
func (c *checker) length(r report.Result, m scanned, s *plan.Size) {
	y, src := c.lengths.correct(m)
	c.judge(r, y, s.Nominal, src, *s.Band)
}

// asked is a characteristic that the plan may ask for, and how it is judged.
type asked struct {
	asked bool
	what  report.Characteristic
	judge func(r report.Result)
}

// single judges what the plan asks of each single feature.
func (c *checker) single() {
	for _, k := range c.kinds {
		for _, w := range k.wanted {
			s := w.shown
			c.ask(&w,
				asked{w.Size.Judged(), report.Diameter, func(r report.Result) {
					c.length(r, s.size, w.Size)
				}},
				asked{w.Position.Diameter > 0, report.Position, func(r report.Result) {
					c.placed(r, s.hole, &w.Feature)
				}},
				asked{w.Perpendicularity > 0, report.Perpendicularity, func(r report.Result) {
					c.perpendicular(r, s, &w.Feature)
				}},
				asked{w.Form > 0, w.FormKey, func(r report.Result) { c.form(r, s, w.Form) }})
		}
	}
}

// ask judges what is asked of a single feature, or says that it is there or missing.
func (c *checker) ask(w *wanted, asks ...asked) {
	what := whatOf(asks)
	if w.shown == nil {
		c.missing(w.ID, missingSingle(&w.Feature), what...)
		return
	}
	r := report.Result{Feature: w.ID, Matched: matchedID(w.ID, w.shown.id)}
	for _, a := range asks {
		if r.Characteristic = a.what; a.asked {
			a.judge(r)
		}
	}
	if len(what) == 0 {
		c.present(r)
	}
}

func whatOf(asks []asked) (what []report.Characteristic) {
	for _, a := range asks {
		if a.asked {
			what = append(what, a.what)
		}
	}
	return what
}

// present records that a feature without any band was found.
func (c *checker) present(r report.Result) {
	r.Characteristic, r.Verdict = report.Presence, report.Conforming
	c.results = append(c.results, r)
}

// missingSingle says what the scan does not show.
func missingSingle(w *plan.Feature) string {
	out := "no " + w.Kind + " "
	if w.Side != "" {
		out = fmt.Sprintf("no %s %s ", w.Side, w.Kind)
	}
	if w.Size != nil {
		out += fmt.Sprintf("of about %s mm ", wording.Short(w.Size.Nominal))
	}
	var at []string
	for _, v := range w.At {
		at = append(at, wording.Short(v))
	}
	if at != nil {
		out += "near " + strings.Join(at, ", ") + " in the datum frame "
	}
	return out + "in this scan"
}

// form judges a flatness or cylindricity, which may all be noise.
func (c *checker) form(r report.Result, s *seen, allowed float64) {
	if s.form == nil {
		r.Unit, r.Upper = "mm", new(allowed)
		c.lacks(r, "too little of it was scanned to tell its "+string(r.Characteristic))
		return
	}
	if s.noise {
		r.Why = report.FormOrNoise
	}
	y, src := c.lengths.correct(scanned{value: *s.form, expanded: s.formU, form: true})
	c.judge(r, y, 0, src, upTo(allowed))
}
