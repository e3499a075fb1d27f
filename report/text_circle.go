package report

import (
	"fmt"
	"math"
)

// circle writes one bolt circle: heading, table of holes, hole-to-hole table,
// and what the numbers mean.
func (t *text) circle(c *BoltCircle) {
	t.section()
	t.paragraph(t.circleHeading(c), "  ")
	t.holeTable(c)
	t.line()
	t.spacingTable(c)
	t.standoutSentences(c)
}

func (t *text) circleHeading(c *BoltCircle) string {
	d := decimals(c.Uncertainty.PitchDiameter)
	s := "Bolt circle " + c.ID
	if c.Face != "" {
		s += " on face " + c.Face
	}
	s += fmt.Sprintf(", pitch diameter %s%s mm", fixed(c.PitchDiameter, d), plusMinus(c.Uncertainty.PitchDiameter, d))
	if r := t.result(c.ID, PitchDiameter); r != nil {
		s += fmt.Sprintf(" (%s: %s)", r.nominalWithin(), r.Verdict)
	}
	return s
}

// nominalWithin is "84 within +-0.2".
func (r *Result) nominalWithin() string {
	s := ""
	if r.Nominal != nil {
		s = short(*r.Nominal) + " "
	}
	return s + "within " + bandText(r.Lower, r.Upper)
}

func (t *text) holeTable(c *BoltCircle) {
	tab := table{head: []string{"<hole", "diameter", "angle", "from nominal", "from the others", "outward mm", "band", "<verdict", "<hole size"}}
	var u, ud float64
	for _, k := range c.Clocking {
		u = leastPositive(u, k.UncertaintyDeg)
		if h := t.rep.hole(k.Hole); h != nil {
			ud = leastPositive(ud, h.Uncertainty.Diameter)
		}
	}
	d, dd := decimals(u), decimals(ud)
	for _, k := range c.Clocking {
		row := []string{k.Hole, "", fixed(k.AngleDeg, d), "", "", "", "", "", ""}
		if h := t.rep.hole(k.Hole); h != nil {
			row[1] = h.sizeText(dd)
		}
		if k.DeviationDeg != nil {
			row[3] = signed(*k.DeviationDeg, d) + plusMinus(k.UncertaintyDeg, d)
		}
		if k.FromOthersDeg != nil {
			row[4] = signed(*k.FromOthersDeg, d) + plusMinus(k.FromOthersUncertaintyDeg, d)
		}
		ru := decimals(k.RadialUncertainty)
		if len(c.Clocking) > 3 { // three holes lie on their circle exactly
			row[5] = signed(k.Radial, min(ru, 3)) + plusMinus(k.RadialUncertainty, min(ru, 3))
		}
		if r := t.result(c.ID+"/"+k.Hole, ClockingAngle); r != nil {
			row[6], row[7] = bandText(r.Lower, r.Upper), string(r.Verdict)
		}
		if r := t.result(c.ID+"/"+k.Hole, Diameter); r != nil {
			row[8] = fmt.Sprintf("%s: %s", r.nominalWithin(), r.Verdict)
		}
		tab.add(row...)
	}
	tab.write(&t.b)
}

// sizeText prints a hole's size: its diameter, or width x length of a slot.
func (h *Hole) sizeText(d int) string {
	if h.Diameter > 0 {
		return fixed(h.Diameter, d)
	}
	return fixed(h.Width, d) + " x " + fixed(h.Length, d)
}

func leastPositive(a, b float64) float64 {
	if a > 0 && (b <= 0 || a < b) {
		return a
	}
	return b
}

func (t *text) spacingTable(c *BoltCircle) {
	tab := table{head: []string{"<hole to hole", "angle", "nominal", "from nominal", "band", "<verdict"}}
	var u float64
	for _, k := range c.Spacing {
		u = leastPositive(u, k.UncertaintyDeg)
	}
	d := decimals(u)
	for _, k := range c.Spacing {
		row := []string{k.From + " to " + k.To, fixed(k.AngleDeg, d), "", "", "", ""}
		if k.NominalDeg != nil {
			row[2] = short(*k.NominalDeg)
		}
		if k.DeviationDeg != nil {
			row[3] = signed(*k.DeviationDeg, d) + plusMinus(k.UncertaintyDeg, d)
		}
		if r := t.result(c.ID+"/"+k.From+"-"+k.To, SpacingAngle); r != nil {
			row[4], row[5] = bandText(r.Lower, r.Upper), string(r.Verdict)
		}
		tab.add(row...)
	}
	tab.write(&t.b)
}

// standoutSentences says what the tables mean: which holes agree, which one
// stands out, by how much and which way.
func (t *text) standoutSentences(c *BoltCircle) {
	so := t.standouts[c.ID]
	n := len(c.Clocking)
	var s string
	switch {
	case n > 0 && !c.regularToPlan():
		s = "No regular pattern explains these angles, so there is no nominal to hold them against."
	case so.Scatter:
		s = fmt.Sprintf("The holes leave the pattern by up to %s degrees, %s mm along the circle, which is more than this scan's uncertainty; no single hole explains it.",
			fixed(c.worstDeviation(), 3), fixed(c.worstDeviation()*math.Pi/180*c.PitchDiameter/2, 2))
	case !so.Judged && n > 0:
		s = fmt.Sprintf("With %s holes the others do not make a ring of their own, so no single one can be blamed.", word(n))
	case len(so.Holes) == 0 && n > 0:
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
	d := min(decimals(s.AlongU), 3)
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
		out += fmt.Sprintf("%s mm %s", fixed(math.Abs(s.Out), min(decimals(s.OutU), 3)), way)
	}
	return out + " from where they put it."
}
