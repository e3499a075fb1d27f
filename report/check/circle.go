package check

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/report"
	"spotface/report/plan"
	"spotface/report/wording"
)

// circle judges a bolt circle: first itself, then its angles and its holes.
func (c *checker) circle(i int) {
	p, cm := &c.plan.BoltCircles[i], &c.circles[i]
	eachHole := []asked{
		{asked: p.ClockingBand != nil, what: report.ClockingAngle},
		{asked: p.HoleDiameter.Judged(), what: report.Diameter},
		{asked: p.Position.Diameter > 0, what: report.Position},
	}
	all := whatOf(append(slices.Clone(eachHole),
		asked{asked: p.SpacingBand != nil, what: report.SpacingAngle},
		asked{asked: p.PitchDiameter.Judged(), what: report.PitchDiameter},
		asked{asked: p.Position.Within > 0 && p.Position.Diameter == 0, what: report.Position}))
	if cm.err != nil {
		c.missing(p.ID, cm.err.Error(), all...)
		return
	}
	k := &c.circled[cm.at]
	before := len(c.results)
	// A hole is named by its place in the plan, the scan's own name for it beside it.
	name := func(what report.Characteristic, holes ...string) report.Result {
		id, matched := p.ID, k.ID
		for i, h := range holes {
			sign := []string{"/", "-"}[min(i, 1)]
			id += sign + placeName(slices.Index(cm.there, h))
			matched += sign + h
		}
		return report.Result{Feature: id, Matched: matchedID(id, matched), Characteristic: what}
	}
	if p.PitchDiameter.Judged() {
		c.length(name(report.PitchDiameter), ofCircle(k).size, p.PitchDiameter)
	}
	if p.ClockingBand != nil {
		for j := range k.Clocking {
			g := &k.Clocking[j]
			g.Verdict = c.angle(name(report.ClockingAngle, g.Hole), *g.NominalDeg, *g.DeviationDeg,
				g.UncertaintyDeg, p.ClockingBand)
		}
	}
	if p.SpacingBand != nil {
		for j := range k.Spacing {
			g := &k.Spacing[j]
			g.Verdict = c.angle(name(report.SpacingAngle, g.From, g.To), *g.NominalDeg,
				*g.DeviationDeg, g.UncertaintyDeg, p.SpacingBand)
		}
	}
	for _, g := range k.Clocking {
		h := c.rep.Hole(g.Hole)
		r := name(report.Diameter, g.Hole)
		switch {
		case !p.HoleDiameter.Judged() || h.Kind == string(bolt.Slot):
		case h.Diameter > 0:
			c.length(r, ofHole(h, 2).size, p.HoleDiameter)
		default:
			c.lacks(r, fmt.Sprintf("%s is a %s of %s x %s mm here, which has no diameter", h.ID, h.Kind,
				wording.Fixed(h.Width, 2), wording.Fixed(h.Length, 2)))
		}
	}
	if p.Position.Diameter > 0 || p.Position.Within > 0 {
		c.circlePositions(p, k, name)
	}
	for at, hole := range cm.there {
		if hole == "" {
			c.missing(p.ID+"/"+placeName(at),
				fmt.Sprintf("no hole at %s degrees, place %d of the pattern",
					wording.Short(p.Angles[at]), at+1), whatOf(eachHole)...)
		}
	}
	for _, hole := range cm.extra {
		listed := func(w wanted) bool { return w.shown != nil && w.shown.id == hole }
		if slices.ContainsFunc(c.kinds[holes].wanted, listed) {
			continue // the plan has it under holes
		}
		c.results = append(c.results, report.Result{Feature: p.ID, Matched: k.ID + "/" + hole,
			Characteristic: report.Presence, Verdict: report.Nonconforming,
			Why: "a hole where the plan has none"})
	}
	if len(c.results) == before {
		c.present(name(""))
	}
}

// placeName is the name of a circle's place, counted from 0: "H1" is the first.
func placeName(at int) string { return fmt.Sprintf("H%d", at+1) }

func missingText(p *plan.Circle) string {
	s := fmt.Sprintf("no circle of %d holes", len(p.Angles))
	if p.PitchDiameter != nil {
		s += fmt.Sprintf(" on about %s mm", wording.Short(p.PitchDiameter.Nominal))
	}
	if p.HoleDiameter != nil {
		s += fmt.Sprintf(" with holes of about %s mm", wording.Short(p.HoleDiameter.Nominal))
	}
	return s + " in this scan"
}

// otherUnit says that the scan has such a circle in another unit, where it has.
func (c *checker) otherUnit(p *plan.Circle) string {
	if p.PitchDiameter == nil {
		return ""
	}
	for i := range c.rep.BoltCircles {
		k := &c.rep.BoltCircles[i]
		if len(k.Clocking) != len(p.Angles) {
			continue
		}
		for _, u := range []struct {
			by   float64
			from string
			to   string
		}{{25.4, "in", "mm"}, {1 / 25.4, "mm", "in"}, {1000, "m", "mm"}, {1.0 / 1000, "mm", "m"}} {
			s := *p.PitchDiameter
			s.Nominal /= u.by
			if _, ok := near(k.PitchDiameter, &s); ok &&
				math.Abs(k.PitchDiameter-s.Nominal) < 0.02*s.Nominal {
				return fmt.Sprintf(". One of %s mm is there: a factor of %s fits. Is the plan's "+
					"or the scan's unit %s, and not %s?",
					wording.Fixed(k.PitchDiameter, 2), wording.Short(max(u.by, 1/u.by)), u.to,
					u.from)
			}
		}
	}
	return ""
}

// reclockAll counts every circle anew from the plan's first hole.
func (c *checker) reclockAll() {
	for i := range c.circles {
		p, cm := &c.plan.BoltCircles[i], &c.circles[i]
		if cm.at < 0 {
			cm.err = errors.New(missingText(p) + c.otherUnit(p))
			continue
		}
		cm.err = c.reclock(p, cm, &c.circled[cm.at])
	}
}

// reclock measures the circle anew from the hole that clocks it and against the
// plan's angles, over the holes that have a place in the plan.
func (c *checker) reclock(p *plan.Circle, cm *circleMatch, k *report.BoltCircle) error {
	var ids []string
	var nom pattern.Reading
	nom.Positions, nom.Step, nom.Full = grid(p)
	start := 0 // a full ring counts from the clocking hole, part of one from its first
	if nom.Full {
		start = c.clockPlace(cm)
	}
	first, gone := math.NaN(), []float64(nil)
	from := func(a float64) s1.Angle { return bolt.Wrap(s1.Angle(a-first) * s1.Degree) }
	for i := range p.Angles {
		at := (start + i) % len(p.Angles)
		a, id := p.Angles[at], cm.there[at]
		if id == "" {
			gone = append(gone, a)
			continue
		}
		if len(ids) == 0 {
			first = a
		}
		ids, nom.Angles = append(ids, id), append(nom.Angles, from(a))
	}
	for _, g := range k.Clocking {
		if !slices.Contains(ids, g.Hole) {
			cm.extra = append(cm.extra, g.Hole)
		}
	}
	for at := range nom.Positions {
		a := float64(at) * nom.Step.Degrees()
		planned := func(b float64) bool { return math.Abs(wrap180(a-b)) < 1e-3 }
		if !slices.ContainsFunc(p.Angles, planned) {
			gone = append(gone, a)
		}
	}
	for _, a := range gone {
		nom.Missing = append(nom.Missing, from(a))
	}
	slices.Sort(nom.Missing)
	got, err := bolt.Clock(c.rep.BoltHoles(ids...), nom)
	if err != nil {
		return err
	}
	got.ID, got.Face = k.ID, k.Face
	var warnings []string
	*k, warnings = report.NewBoltCircle(got)
	c.notes = append(c.notes, warnings...)
	k.Standouts = report.FindStandouts(c.rep, k)
	return nil
}

// grid returns the regular pattern that the planned angles belong to: how many
// places, how far apart, and whether they go all the way round. Angles on no grid
// of at most four times their number have no places; whether they close on
// themselves is then a matter of the largest gap, half a turn.
func grid(p *plan.Circle) (places int, spacing s1.Angle, full bool) {
	n := len(p.Angles)
	on := func(step float64) bool {
		for _, a := range p.Angles {
			if math.Abs(a-step*math.Round(a/step)) > 1e-3 {
				return false
			}
		}
		return true
	}
	step := p.Angles[1]
	if even := on(step) && math.Abs(p.Angles[n-1]-float64(n-1)*step) < 1e-3; even {
		return n, s1.Angle(step) * s1.Degree, math.Abs(float64(n)*step-360) < 1e-2
	}
	for k := n + 1; k <= 4*n; k++ {
		if on(360 / float64(k)) {
			return k, s1.Angle(360/float64(k)) * s1.Degree, true
		}
	}
	return 0, 0, p.Angles[n-1] > 180
}
