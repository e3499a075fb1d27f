package report

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r1"

	"spotface/report/budget"
	"spotface/report/wording"
)

// Check judges a measured report against a plan: it matches the plan's features
// to the scan's, puts the datum frame where the plan wants it, counts clocking
// from the plan's first hole against the plan's angles, and fills in Results,
// the verdicts and Notes. A feature that the scan does not show is missing,
// never skipped. Checking again, against this or another plan, starts afresh.
//
// The report must be in the scan's own position. An error means that nothing
// could be judged; a bad part is not an error.
func Check(p *Plan, rep *Report) error {
	if rep.InFrame {
		return errors.New("check: the report is in its datum frame: check the measured report first, then turn it")
	}
	rep.forget()
	m := matchPlan(p, rep)
	rep.Part = p.Part
	rep.before, rep.Frame = rep.Frame, m.frame
	rep.place()
	c := &checker{match: m}
	c.reclockAll()
	rep.Scale = c.scale()
	for i := range p.BoltCircles {
		c.circle(i)
	}
	for i := range p.Holes {
		c.hole(i)
	}
	for i := range p.Cylinders {
		c.cylinder(i)
	}
	for i := range p.Planes {
		c.plane(i)
	}
	if len(c.results) == 0 {
		return fmt.Errorf("check: the plan %s gives no band to judge by: add a band, a zone or a flatness", p.File)
	}
	c.noteCorrections()
	rep.Results, rep.Notes = c.results, m.notes
	rep.Verdict = Worst(rep.Results)
	if rep.Decision = p.Decision; rep.Decision == "" {
		rep.Decision = Guarded
	}
	return nil
}

// forget takes back what an earlier check did.
func (rep *Report) forget() {
	if rep.before != nil {
		rep.Frame = rep.before
	}
	rep.Part, rep.Results, rep.Verdict, rep.Decision, rep.Notes, rep.before = "", nil, "", "", nil, nil
	rep.Scale = nil
	for i := range rep.BoltCircles {
		if b := rep.BoltCircles[i].before; b != nil {
			rep.BoltCircles[i] = *b
		}
	}
}

// checker judges the features of a match one by one.
type checker struct {
	*match
	places  [][]string // of each planned circle, the hole at each place, "" for none
	clocked []error    // of each planned circle, why it could not be counted
	lengths *lengths
	results []Result
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
func (c *checker) missing(feature, why string, what ...Characteristic) {
	if len(what) == 0 {
		what = []Characteristic{Presence}
	}
	for _, w := range what {
		c.results = append(c.results, Result{Feature: feature, Characteristic: w, Verdict: Missing, Why: why})
	}
}

// sureness is how sure a judged number is said to be.
type sureness struct {
	standard    budget.Standard
	expanded    float64
	probability float64 // of the true value lying in the band
}

// judge adds the result of a number that depends on src, nil where the scan does
// not show how sure it is.
func (c *checker) judge(r Result, measured, nominal float64, src *sources, band r1.Interval) Verdict {
	var s sureness
	if src != nil {
		u := src.combined()
		s = sureness{u, u.Expanded(), ConformanceProbability(measured-nominal, u, band)}
	}
	return c.state(r, measured, nominal, src, s, band)
}

// state adds a result with what is said of it; nothing is where u is zero.
func (c *checker) state(r Result, measured, nominal float64, src *sources, s sureness, band r1.Interval) Verdict {
	dev := measured - nominal
	r.Measured, r.Nominal, r.Deviation = number(measured), number(nominal), number(dev)
	r.Lower, r.Upper = limit(band.Lo), limit(band.Hi)
	if r.Unit == "" {
		r.Unit = "mm"
	}
	r.Verdict = DecideBy(dev, s.expanded, band, c.plan.Decision)
	if u := s.standard; s.expanded > 0 {
		r.Uncertainty, r.CoverageFactor, r.EffectiveDoF = s.expanded, s.expanded/u.U, u.DoF
		r.Budget = src.lines()
		r.FromPlan = r.CoverageFactor * fromPlan(r.Budget)
		r.Probability = number(s.probability)
	} else {
		r.Why = "the scan does not show how sure this number is"
	}
	c.results = append(c.results, r)
	return r.Verdict
}

// angle judges an angle, which depends on nothing but the scan's noise: neither a
// coat nor the scale turns anything.
func (c *checker) angle(r Result, measured, nominal, expanded float64, band *r1.Interval) Verdict {
	r.Unit = "deg"
	src := &sources{}
	if !src.seen("", measured, "deg", expanded, 0, 1) {
		src = nil
	}
	return c.judge(r, measured, nominal, src, *band)
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
func (c *checker) length(r Result, m scanned, s *Size) {
	y, src := c.lengths.correct(m)
	c.judge(r, y, s.Nominal, src, *s.Band)
}

// diameter judges a diameter where the plan has a band for it.
func (c *checker) diameter(r Result, of any, s *Size) {
	if s.judged() {
		r.Characteristic = Diameter
		c.length(r, c.diameterOf(of), s)
	}
}

func (s *Size) judged() bool { return s != nil && s.Band != nil }

func (c *checker) hole(i int) {
	p := &c.plan.Holes[i]
	j := c.holes[i]
	if j < 0 {
		var what []Characteristic
		if p.Diameter.judged() {
			what = append(what, Diameter)
		}
		if p.Position > 0 {
			what = append(what, Position)
		}
		c.missing(p.ID, "no hole "+likeText(p.Diameter, p.At), what...)
		return
	}
	h := &c.rep.Holes[j]
	r := Result{Feature: p.ID, Matched: matchedID(p.ID, h.ID)}
	c.diameter(r, h, p.Diameter)
	if p.Position > 0 {
		if c.frame == nil {
			r.Characteristic, r.Verdict, r.Why = Position, Indeterminate, "the scan gives no datum frame to place it in"
			c.results = append(c.results, r)
		} else {
			c.position(r, h, [2]float64{p.At[0], p.At[1]}, p.Position)
		}
	}
	if !p.Diameter.judged() && p.Position == 0 {
		c.present(r)
	}
}

// present records that a feature without any band was found.
func (c *checker) present(r Result) {
	r.Characteristic, r.Verdict = Presence, Conforming
	c.results = append(c.results, r)
}

func likeText(s *Size, at []float64) string {
	out := ""
	if s != nil {
		out += fmt.Sprintf("of about %s mm ", wording.Short(s.Nominal))
	}
	if at != nil {
		out += "near "
		for i, v := range at {
			if i > 0 {
				out += ", "
			}
			out += wording.Short(v)
		}
		out += " in the datum frame "
	}
	return out + "in this scan"
}

func (c *checker) cylinder(i int) {
	p := &c.plan.Cylinders[i]
	var what []Characteristic
	if p.Diameter.judged() {
		what = append(what, Diameter)
	}
	if p.Perpendicularity > 0 {
		what = append(what, Perpendicularity)
	}
	if p.Cylindricity > 0 {
		what = append(what, Cylindricity)
	}
	j := c.cylinders[i]
	if j < 0 {
		kind := "no cylinder "
		if p.Side != "" {
			kind = fmt.Sprintf("no %s cylinder ", p.Side)
		}
		c.missing(p.ID, kind+likeText(p.Diameter, p.At), what...)
		return
	}
	k := &c.rep.Cylinders[j]
	r := Result{Feature: p.ID, Matched: matchedID(p.ID, k.ID)}
	c.diameter(r, k, p.Diameter)
	if p.Perpendicularity > 0 {
		c.perpendicular(r, k, p)
	}
	if p.Cylindricity > 0 {
		r.Characteristic = Cylindricity
		c.form(r, k.Cylindricity, k.Uncertainty.Cylindricity, k.FormOrNoise, p.Cylindricity)
	}
	if len(what) == 0 {
		c.present(r)
	}
}

// formOrNoise is what is in the way where noise looks like form.
const formOrNoise = "the scan's noise hangs together over so much of it that form cannot be told from noise"

// form judges a flatness or cylindricity, which may all be noise.
func (c *checker) form(r Result, measured *float64, expanded float64, orNoise bool, allowed float64) {
	if measured == nil {
		r.Unit, r.Upper, r.Verdict = "mm", number(allowed), Indeterminate
		r.Why = "too little of it was scanned to tell"
		c.results = append(c.results, r)
		return
	}
	if orNoise {
		r.Why = formOrNoise
	}
	y, src := c.lengths.form(scanned{value: *measured, expanded: expanded})
	c.judge(r, y, 0, src, upTo(allowed))
}

func (c *checker) plane(i int) {
	p := &c.plan.Planes[i]
	j := c.planes[i]
	if j < 0 {
		var what []Characteristic
		if p.Flatness > 0 {
			what = append(what, Flatness)
		}
		c.missing(p.ID, "no plane "+likeText(nil, p.At), what...)
		return
	}
	pl := &c.rep.Planes[j]
	r := Result{Feature: p.ID, Matched: matchedID(p.ID, pl.ID)}
	if p.Flatness == 0 {
		c.present(r)
		return
	}
	r.Characteristic = Flatness
	c.form(r, pl.Flatness, pl.Uncertainty.Flatness, pl.FormOrNoise, p.Flatness)
}
