package report

import (
	"fmt"
	"math"
	"strings"

	"spotface/report/wording"
)

// circle writes one bolt circle: heading, table of holes, hole-to-hole table,
// and what the numbers mean.
func (t *text) circle(c *BoltCircle) {
	t.section()
	places := t.placeTable(c)
	sizes := t.sizeTable(c, places.Rows() == 0)
	alone := places.Rows() == 0 && sizes.Rows() == 0
	head := t.circleHeading(c)
	if u := t.diameterU(c); u > 0 && sizes.Rows() == 0 {
		head += ", hole diameters" + plusMinus(u, decimals(u)) + " mm"
	}
	t.paragraph(head, "  ")
	t.clockingTable(c, alone)
	for _, tab := range []wording.Table{sizes, places} {
		if tab.Rows() > 0 {
			t.line()
			tab.Write(&t.b)
		}
	}
	t.line()
	t.spacingTable(c)
	t.standoutSentences(c)
}

// diameterU is the largest uncertainty of the holes' diameters, 0 where not known.
func (t *text) diameterU(c *BoltCircle) float64 {
	u := 0.0
	for _, k := range c.Clocking {
		if h := t.rep.hole(k.Hole); h != nil {
			u = max(u, h.Uncertainty.Diameter)
		}
	}
	return u
}

func (t *text) circleHeading(c *BoltCircle) string {
	r := t.result(c.ID, PitchDiameter)
	pitch, u := c.PitchDiameter, c.Uncertainty.PitchDiameter
	if r != nil && r.Uncertainty > 0 {
		pitch, u = *r.Measured, r.Uncertainty // as corrected
	}
	d := decimals(u)
	s := "Bolt circle " + c.ID
	if c.Face != "" {
		s += " on face " + c.Face
	}
	s += fmt.Sprintf(", pitch diameter %s%s mm", fixed(pitch, d), plusMinus(u, d))
	if r != nil {
		s += fmt.Sprintf(" (%s: %s)", r.nominalWithin(), r.Verdict)
	}
	return s
}

// nominalWithin is "84 within +-0.2".
func (r *Result) nominalWithin() string {
	if r.Lower == nil && r.Upper != nil && (r.Nominal == nil || *r.Nominal == 0) {
		return "within " + wording.Short(*r.Upper) // a form error or a zone
	}
	s := ""
	if r.Nominal != nil {
		s = wording.Short(*r.Nominal) + " "
	}
	return s + "within " + wording.Band(r.Lower, r.Upper)
}

// clockingTable lists the holes with their angles; outward says whether how far
// out they lie stands here, too.
func (t *text) clockingTable(c *BoltCircle, outward bool) {
	tab := wording.Table{Head: []string{"<hole", "diameter", "angle", "from nominal", "from the others", "outward mm", "band", "<verdict"}}
	var u, ud float64
	for _, k := range c.Clocking {
		u = leastPositive(u, k.UncertaintyDeg)
		if h := t.rep.hole(k.Hole); h != nil {
			ud = leastPositive(ud, h.Uncertainty.Diameter)
		}
	}
	d, dd := decimals(u), decimals(ud)
	for _, k := range c.Clocking {
		row := []string{k.Hole, "", fixed(k.AngleDeg, d), "", "", "", "", ""}
		if h := t.rep.hole(k.Hole); h != nil && !t.corrected(c.ID+"/"+k.Hole, h) {
			row[1] = fixed(h.Diameter, dd)
		}
		if k.DeviationDeg != nil {
			row[3] = signed(*k.DeviationDeg, d) + plusMinus(k.UncertaintyDeg, d)
		}
		if deg, u, ok := c.fromOthers(k); ok {
			row[4] = signed(deg, d) + plusMinus(u, d)
		}
		if outward {
			row[5] = k.outwardText(len(c.Clocking))
		}
		if r := t.result(c.ID+"/"+k.Hole, ClockingAngle); r != nil {
			row[6], row[7] = wording.Band(r.Lower, r.Upper), string(r.Verdict)
		}
		tab.Add(row...)
	}
	tab.Write(&t.b)
}

// corrected reports whether a judged diameter is not that of the scan: then it
// stands in the table of sizes alone.
func (t *text) corrected(id string, h *Hole) bool {
	r := t.result(id, Diameter)
	return r != nil && r.Measured != nil && *r.Measured != h.Diameter
}

// outwardText is how far out of the pitch circle a hole of n lies. Three holes
// lie on theirs exactly.
func (k Clocking) outwardText(n int) string {
	if n < 4 {
		return ""
	}
	d := decimals(k.RadialUncertainty)
	return signed(k.Radial, d) + plusMinus(k.RadialUncertainty, d)
}

// sizeTable lists the holes' sizes where the plan judges them; outward says whether
// how far out they lie stands here, too.
func (t *text) sizeTable(c *BoltCircle, outward bool) wording.Table {
	tab := wording.Table{Head: []string{"<hole", "diameter", "from nominal", "band", "<verdict", "outward mm"}}
	for _, k := range c.Clocking {
		r := t.result(c.ID+"/"+k.Hole, Diameter)
		if r == nil {
			continue
		}
		d := decimals(r.Uncertainty)
		row := []string{k.Hole, fixed(*r.Measured, d), signed(*r.Deviation, d) + plusMinus(r.Uncertainty, d),
			wording.Band(r.Lower, r.Upper), string(r.Verdict), ""}
		if outward {
			row[5] = k.outwardText(len(c.Clocking))
		}
		tab.Head[2] = "from " + wording.Short(*r.Nominal)
		tab.Add(row...)
	}
	return tab
}

// placeTable lists where the holes sit where the plan judges that.
func (t *text) placeTable(c *BoltCircle) wording.Table {
	tab := wording.Table{Head: []string{"<hole", "outward mm", "position mm", "zone", "<verdict"}}
	u := 0.0
	for _, k := range c.Clocking {
		if r := t.result(c.ID+"/"+k.Hole, Position); r != nil {
			u = leastPositive(u, r.Uncertainty)
		}
	}
	for _, k := range c.Clocking {
		if r := t.result(c.ID+"/"+k.Hole, Position); r != nil {
			d := decimals(u)
			tab.Add(k.Hole, k.outwardText(len(c.Clocking)), fixed(*r.Measured, d)+plusMinus(r.Uncertainty, d),
				wording.Short(*r.Upper), string(r.Verdict))
		}
	}
	return tab
}

// fromOthers is how far a hole is turned from the ring of the others; where some
// stand out, of the others that do not.
func (c *BoltCircle) fromOthers(k Clocking) (deg, u float64, ok bool) {
	if c.Standouts != nil {
		for _, f := range c.Standouts.FromRest {
			if f.Hole == k.Hole {
				return f.Deg, f.DegU, true
			}
		}
	}
	if k.FromOthersDeg == nil {
		return 0, 0, false
	}
	return *k.FromOthersDeg, k.FromOthersUncertaintyDeg, true
}

func leastPositive(a, b float64) float64 {
	if a > 0 && (b <= 0 || a < b) {
		return a
	}
	return b
}

func (t *text) spacingTable(c *BoltCircle) {
	tab := wording.Table{Head: []string{"<hole to hole", "angle", "nominal", "from nominal", "band", "<verdict"}}
	var u float64
	for _, k := range c.Spacing {
		u = leastPositive(u, k.UncertaintyDeg)
	}
	d := decimals(u)
	for _, k := range c.Spacing {
		row := []string{k.From + " to " + k.To, fixed(k.AngleDeg, d), "", "", "", ""}
		if k.NominalDeg != nil {
			row[2] = wording.Short(*k.NominalDeg)
		}
		if k.DeviationDeg != nil {
			row[3] = signed(*k.DeviationDeg, d) + plusMinus(k.UncertaintyDeg, d)
		}
		if r := t.result(c.ID+"/"+k.From+"-"+k.To, SpacingAngle); r != nil {
			row[4], row[5] = wording.Band(r.Lower, r.Upper), string(r.Verdict)
		}
		tab.Add(row...)
	}
	tab.Write(&t.b)
}

// standoutSentences says what the tables mean: which holes agree, which one
// stands out, by how much and which way.
func (t *text) standoutSentences(c *BoltCircle) {
	so := c.Standouts
	n := len(c.Clocking)
	var s string
	switch {
	case n > 0 && !c.regularToPlan():
		s = "No regular pattern explains these angles, so there is no nominal to hold them against."
	case so == nil && n < 4 && c.withinU():
		s = fmt.Sprintf("All %s holes agree with %s within what this scan can tell.", word(n), c.ringName())
	case so == nil && n < 4:
		s = fmt.Sprintf("With %s holes the others do not make a ring of their own, so no single one can be blamed.", word(n))
	case so == nil:
		s = "How sure the holes' places are is not known, so no single one can be blamed."
	case so.Scatter:
		s = fmt.Sprintf("The holes leave the pattern by up to %s degrees, %s mm along the circle, which is more than this scan's uncertainty; no single hole explains it.",
			fixed(c.worstDeviation(), 3), fixed(c.worstDeviation()*math.Pi/180*c.PitchDiameter/2, 2))
	case len(so.Holes) == 0:
		s = fmt.Sprintf("All %s holes agree with %s within what this scan can tell.", word(n), c.ringName())
	default:
		rest := n - len(so.Holes)
		if so.RestScatter > 0 {
			s = fmt.Sprintf("The other %s holes hold %s to %s mm (RMS).", word(rest), c.ringName(), fixed(so.RestScatter, 3))
		} else {
			s = fmt.Sprintf("%s holes agree with %s within what this scan can tell.", capital(word(rest)), c.ringName())
		}
		for _, h := range so.Holes {
			s += " " + h.sentence()
			if k := t.rep.hole(h.Hole); k != nil {
				p := t.rep.inScan(k.Centre)
				s += " Its centre is at " + strings.Trim(list3(p[:], 2), "[]") + " in the scan."
			}
		}
	}
	t.line()
	t.paragraph(s, "")
}

func (c *BoltCircle) ringName() string {
	switch {
	case c.Nominal == nil:
		return "the plan's angles"
	case c.Nominal.FullRing:
		return "a regular ring"
	}
	return "an even spacing"
}

// sentence says where the hole sits, seen from outside looking at the face.
func (s Standout) sentence() string {
	d := decimals(s.AlongU)
	if s.AlongU > 0.004 {
		d = 2 // a hundredth is what a shop can use
	}
	out := s.Hole + " sits "
	if s.Turned {
		out += fmt.Sprintf("%s mm %s along the circle (seen from outside)", fixed(math.Abs(s.Along), d), turnWord(s.Deg))
	}
	if s.Shifted {
		if s.Turned {
			out += " and "
		}
		way := "outward"
		if s.Out < 0 {
			way = "inward"
		}
		out += fmt.Sprintf("%s mm %s", fixed(math.Abs(s.Out), d), way)
	}
	return out + " from where they put it."
}
