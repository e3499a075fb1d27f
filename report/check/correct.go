package check

import (
	"math"

	"spotface/report"
	"spotface/report/budget"
	"spotface/report/plan"
	"spotface/report/wording"
)

// lengths corrects scanned lengths for comparison with a plan: without the coat, at 20 degrees
// C, to the scale that reference lengths set.
type lengths struct {
	scanner *plan.Scanner
	factor  float64  // of every length, its coat taken off
	terms   *sources // what factor depends on, with ∂factor/∂x
	set     bool     // factor comes from reference lengths, not from the temperature
}

// standardTemperature is where sizes hold, degrees C (ISO 1:2022).
const standardTemperature = 20

// atTemperature corrects for the part's temperature T:
//
//	L(20) = L / (1 + α (T - 20))
func atTemperature(s *plan.Scanner) *lengths {
	l := &lengths{scanner: s, factor: 1, terms: &sources{}}
	t := s.Temperature
	if t == nil {
		return l
	}
	above := t.Part - standardTemperature
	l.factor = 1 / (1 + t.Expansion*above)
	l.terms.add(report.SourceTemperature, "", t.Part, "deg C", t.StandardU,
		-l.factor*l.factor*t.Expansion)
	l.terms.add(report.SourceExpansion, "", t.Expansion, "1/K", t.ExpansionU,
		-l.factor*l.factor*above)
	return l
}

// scanned is a length as a scan shows it, mm.
type scanned struct {
	feature  string  // of the scan, and what is measured of it: "diameter H3"
	value    float64 // mm
	expanded float64 // what the scan shows; 0: not known
	unseen   float64 // the part of expanded that no residual shows
	coats    float64 // how often the coat's thickness is to be added: 2 for a hole, -2 for a boss
	form     bool    // a form error or a zone, whose size has no length error of its own
	// datum is the expanded uncertainty that the datum datumID brings, 0 for none.
	datum   float64
	datumID string
}

// bare is the length with its coat taken off.
func (m scanned) bare(s *plan.Scanner) float64 { return m.value + m.coats*s.Coating.Thickness }

// own adds what a scanned length depends on by itself, times the factor.
func (l *lengths) own(out *sources, m scanned, factor float64) (ok bool) {
	if !out.seen(m.feature, m.value, "mm", m.expanded, m.unseen, factor) {
		return false
	}
	if m.datum > 0 {
		out.add(report.SourceDatum, m.datumID, 0, "mm",
			budget.Standard{U: m.datum / report.Coverage}, factor)
	}
	if c := l.scanner.Coating; m.coats != 0 && (c.Thickness > 0 || c.StandardU.U > 0) {
		out.add(report.SourceCoating, "", c.Thickness, "mm", c.StandardU, factor*m.coats)
	}
	return true
}

// scanError adds the scanner's own error of a length of size mm: u = a + b L, of
// which b, common to all lengths, is gone where reference lengths set the scale.
func (l *lengths) scanError(out *sources, feature string, size, sensitivity float64) {
	e := l.scanner.Length
	u := e.A
	if !l.set {
		u += e.B * math.Abs(size)
	}
	if u > 0 {
		out.add(report.SourceLength, feature, 0, "mm",
			budget.Standard{U: u, Distribution: e.Distribution, DoF: e.DoF}, sensitivity)
	}
}

// scaleError adds b of u = a + b L, the error that all lengths share, as one of the scale.
func (l *lengths) scaleError(out *sources, sensitivity float64) {
	if e := l.scanner.Length; e.B > 0 {
		out.add(report.SourceLength, "all", 0, "",
			budget.Standard{U: e.B, Distribution: e.Distribution, DoF: e.DoF}, sensitivity)
	}
}

// correct returns the corrected length and what it depends on; the sources are nil
// where the scan does not show how sure the length is.
func (l *lengths) correct(m scanned) (float64, *sources) {
	bare := m.bare(l.scanner)
	out := &sources{}
	if !l.own(out, m, l.factor) {
		return l.factor * bare, nil
	}
	if !m.form {
		l.scanError(out, m.feature, m.value, l.factor)
	}
	out.addAll(l.terms, bare)
	return l.factor * bare, out
}

// noteCorrections says what was corrected.
func (c *checker) noteCorrections() {
	s := &c.plan.Scanner
	if t := s.Coating.Thickness; t > 0 {
		c.note("Diameters are corrected for a coat of %s mm: holes and bores by +%s mm, bosses by "+
			"-%s mm.",
			wording.Short(t), wording.Short(2*t), wording.Short(2*t))
	}
	if t := s.Temperature; t != nil && !c.lengths.set {
		c.note("Judged lengths hold at 20 degrees C (ISO 1); the part was scanned at %s, so they "+
			"are %s.",
			wording.Short(t.Part), stretch(c.lengths.factor))
	}
}

// stretch says what a factor does: "0.0046 % smaller than scanned".
func stretch(factor float64) string {
	switch share := 100 * (factor - 1); {
	case share == 0:
		return "as scanned"
	case share < 0:
		return wording.Digits(-share) + " % smaller than scanned"
	default:
		return wording.Digits(share) + " % larger than scanned"
	}
}

// corrected returns by id the sizes of what the scan shows as the plan corrects them (coat,
// temperature, scale) or makes them less sure (the scanner's length error), those that no
// band judges too, so that one bore has one figure.
func (c *checker) corrected() map[string]*report.Corrected {
	out := make(map[string]*report.Corrected)
	changed := false
	size := func(m scanned, v, u *float64) {
		y, src := c.lengths.correct(m)
		if *v = y; src != nil {
			*u = src.combined().Expanded()
		}
		const digits = 1e-9 // what adding up a budget may change
		changed = changed || math.Abs(y-m.value) > digits || math.Abs(*u-m.expanded) > digits
	}
	add := func(of *seen, h *report.Hole) {
		k := &report.Corrected{}
		switch {
		case of.circle != nil:
			size(of.size, &k.PitchDiameter, &k.Uncertainty.PitchDiameter)
		case of.size.value > 0:
			size(of.size, &k.Diameter, &k.Uncertainty.Diameter)
		default:
			size(scanned{value: h.Width, expanded: h.Uncertainty.Width, coats: 2}, &k.Width,
				&k.Uncertainty.Width)
			size(scanned{value: h.Length, expanded: h.Uncertainty.Length, coats: 2},
				&k.Length, &k.Uncertainty.Length)
		}
		if h != nil && h.XY != nil {
			far := math.Hypot(h.XY[0], h.XY[1])
			size(scanned{value: far, expanded: h.Uncertainty.XY}, &far, &k.Uncertainty.XY)
			k.XY = &[2]float64{h.XY[0] * c.lengths.factor, h.XY[1] * c.lengths.factor}
		}
		if changed {
			out[of.id] = k
		}
		changed = false
	}
	// The places of holes are those in the plan's frame.
	rep := c.rep.Judged(&report.Judgement{Frame: c.frame, BoltCircles: c.circled})
	for i := range rep.Holes {
		add(ofHole(&rep.Holes[i], 2), &rep.Holes[i])
	}
	for i := range rep.Studs {
		add(ofHole(&rep.Studs[i], -2), &rep.Studs[i])
	}
	for _, s := range c.kinds[cylinders].seen {
		add(s, nil)
	}
	for i := range rep.BoltCircles {
		add(ofCircle(&rep.BoltCircles[i]), nil)
	}
	return out
}
