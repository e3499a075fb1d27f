package bolt

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"spotface/bolt/pattern"
	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
)

// Options of Measure; the zero value works.
type Options struct {
	Face  string   // id of the mounting face; empty: chosen
	Bore  string   // id of the main bore's cylinder; empty: chosen
	Clock string   // id of the clocking hole; empty: the first of its circle
	Only  []string // ids of holes, studs and circles to keep; empty: all
	Jobs  int      // goroutines; zero means GOMAXPROCS; does not change the result
}

// Measure finds holes, studs and bolt circles in a segmented scan and measures
// how they are clocked, all in the scan's own position, mm. A scan without
// holes gives a Measurement without holes, not an error; an id in opt that
// does not exist is an error.
func Measure(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation, opt Options) (*Measurement, error) {
	if err := checkIDs(seg, opt); err != nil {
		return nil, err
	}
	f, err := newFinder(ctx, s, seg, opt.Jobs)
	if err != nil {
		return nil, err
	}
	if err := f.find(ctx); err != nil {
		return nil, err
	}
	a, err := f.arrange(ctx, opt)
	if err != nil {
		return nil, err
	}
	m := &Measurement{}
	if a.mounting == nil {
		m.Warnings = append(m.Warnings, "No flat face was found, so there are no holes to measure.")
		return m, nil
	}
	if err := f.findBore(ctx, a); err != nil {
		return nil, err
	}
	if err := a.fill(m, opt); err != nil {
		return nil, err
	}
	m.EdgeWidth, m.EdgeWidthU = f.edgeWidth, f.edgeWidthU
	m.CorrelationLength = correlationLength(f.holes)
	m.warn()
	if f.unseen(a) {
		m.Warnings = append(m.Warnings, unseenWarning)
	}
	return m, nil
}

// unseen reports whether of any round hole's noise, or the bore's, only part may be seen.
func (f *finder) unseen(a *arranged) bool {
	if f.grain.drawn() {
		return false
	}
	of := func(c *candidate) bool { return c.noise != nil && c.noise.Hidden }
	return a.boreWall != nil && of(a.boreWall) || slices.ContainsFunc(f.holes, of)
}

// warn says which holes are poorly seen, and which patterns are in doubt.
func (m *Measurement) warn() {
	for _, c := range m.Circles {
		switch {
		case c.Nominal.Kind == pattern.Irregular:
			m.Warnings = append(m.Warnings, fmt.Sprintf(
				"The %d holes of %s lie on one circle but make no regular pattern: angles are given without nominals.", len(c.Holes), c.ID))
		case c.Nominal.Probability < minNamed:
			var may []string
			for _, r := range c.Readings {
				may = append(may, fmt.Sprintf("%s (%.0f %%)", r.What(), 100*r.Probability))
			}
			m.Warnings = append(m.Warnings, fmt.Sprintf(
				"Which pattern %s was meant as is in doubt: %s.", c.ID, strings.Join(may, " or ")))
		}
	}
	for _, h := range m.Holes {
		if deg := h.Arc.Degrees(); deg < 180 {
			m.Warnings = append(m.Warnings, fmt.Sprintf("Hole %s shows only %.0f degrees of its circumference.", h.ID, deg))
		}
	}
	if m.Bore != nil && m.Bore.Arc.Degrees() < 180 {
		m.Warnings = append(m.Warnings, fmt.Sprintf("The main bore %s, the frame's origin, shows only %.0f degrees of its circumference.", m.Bore.ID, m.Bore.Arc.Degrees()))
	}
	var tapped []string
	for _, h := range m.Holes {
		if h.Thread != nil {
			tapped = append(tapped, h.ID)
		}
	}
	if len(tapped) > 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf(
			"%s: the wall has the ripple of a thread. A scan tells its pitch, no fit: check it with a gauge.", strings.Join(tapped, ", ")))
	}
	var rims, off, tilted, again []string
	var far, most float64
	for _, h := range m.Holes {
		if h.RimDiameter > 0 || h.Kind == Slot && h.From == Rim {
			rims = append(rims, h.ID)
		}
		if h.ByPattern {
			again = append(again, h.ID)
		}
		if h.Tilt > 0 {
			tilted, most = append(tilted, h.ID), max(most, h.Tilt.Degrees())
		}
		if h.RimOff > 0 {
			off, far = append(off, h.ID), max(far, h.RimOff)
		}
	}
	if len(rims) > 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf(
			"%s: no wall was scanned, or too low a one, only the rim. Rims are rounded and read large; diameters allow for it, with a larger uncertainty.",
			strings.Join(rims, ", ")))
	}
	if len(again) > 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf(
			"%s: too little was scanned to find it by itself. It was looked for where the pattern has a hole; its place is its own.", strings.Join(again, ", ")))
	}
	if len(tilted) > 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf(
			"%s: the axis is up to %.2g degrees off the perpendicular to the face. The centre is where the axis meets the face.",
			strings.Join(tilted, ", "), most))
	}
	if len(off) > 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf(
			"%s: the rim's centre lies up to %.2g mm off the wall's, more than their uncertainties explain. The wall is taken; the hole may not be square to the face, its edge worn or its countersink off centre.",
			strings.Join(off, ", "), far))
	}
}

func checkIDs(seg *segment.Segmentation, opt Options) error {
	has := func(id string, kind fit.Kind) bool {
		return slices.ContainsFunc(seg.Surfaces, func(u segment.Surface) bool { return u.ID == id && u.Fit.Kind() == kind })
	}
	if opt.Face != "" && !has(opt.Face, fit.KindPlane) {
		return fmt.Errorf("face %s: the scan has no such plane: measure without it to see their ids", opt.Face)
	}
	if opt.Bore != "" && !has(opt.Bore, fit.KindCylinder) {
		return fmt.Errorf("bore %s: the scan has no such cylinder: measure without it to see their ids", opt.Bore)
	}
	return nil
}

// fill turns what was arranged into the Measurement, with ids.
func (a *arranged) fill(m *Measurement, opt Options) error {
	// Holes of circles first, in turn, then those of other patterns, then the single ones.
	ids := map[*candidate]Hole{}
	name := func(c *candidate) {
		if _, ok := ids[c]; ok {
			return
		}
		h := c.hole()
		if c.stud {
			h.ID = fmt.Sprintf("D%d", len(m.Studs)+1)
			m.Studs = append(m.Studs, h)
		} else {
			h.ID = fmt.Sprintf("H%d", len(m.Holes)+1)
			m.Holes = append(m.Holes, h)
		}
		ids[c] = h
	}
	for _, other := range []bool{false, true} { // other readings last
		for _, p := range slices.Concat(a.rings, a.others) {
			if (p.also != nil) != other {
				continue
			}
			if p.radius > 0 {
				p.features = inTurn(p.features, p.centre, p.axis)
			}
			for _, c := range p.features {
				name(c)
			}
		}
	}
	for _, c := range inTurn(a.single, a.middle, a.mounting.flat.n) {
		name(c)
		if h := ids[c]; c == a.boreRim {
			m.Bore = &h
		}
	}
	if opt.Clock != "" && !slices.ContainsFunc(m.Holes, func(h Hole) bool { return h.ID == opt.Clock }) {
		return fmt.Errorf("clocking hole %s: the scan has no such hole: measure without it to see their ids", opt.Clock)
	}
	for _, p := range a.others {
		g, err := p.grid(ids)
		if err != nil {
			return err
		}
		g.ID = fmt.Sprintf("G%d", len(m.Patterns)+1)
		m.Patterns = append(m.Patterns, g)
		p.id = g.ID
	}
	for i, p := range a.rings {
		holes := make([]Hole, len(p.features))
		for k, c := range p.features {
			holes[k] = ids[c]
		}
		if k := slices.IndexFunc(holes, func(h Hole) bool { return h.ID == opt.Clock }); k > 0 {
			holes = slices.Concat(holes[k:], holes[:k])
		}
		c, err := Clock(holes, pattern.Reading{})
		if err != nil {
			return err
		}
		c.ID, c.Face = fmt.Sprintf("B%d", i+1), p.face.id
		p.id = c.ID
		if p.also != nil {
			c.Also = p.also.id
		}
		m.Circles = append(m.Circles, c)
	}
	for i, p := range a.others {
		if p.also != nil {
			m.Patterns[i].Also = p.also.id
		}
	}
	for _, o := range a.unclear {
		m.Warnings = append(m.Warnings, o.warning())
	}
	m.Walls = a.walls()
	if a.boreHole != nil {
		m.Bore = a.boreHole
	}
	if a.boreHole != nil && a.boreWall == nil {
		m.Warnings = append(m.Warnings, fmt.Sprintf(
			"Too little of the main bore %s was seen to hold it square to the face %s, or it is too crooked: the frame's origin is where its own axis meets the face.", m.Bore.ID, a.mounting.id))
	}
	a.setFrame(m, opt)
	if len(m.Holes) == 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf("No holes were found on face %s or any other.", a.mounting.id))
	}
	if len(opt.Only) > 0 {
		m.keepOnly(opt.Only)
	}
	return nil
}

// walls lists the walls of what was arranged.
func (a *arranged) walls() []WallOf {
	all := slices.Clone(a.single)
	for _, p := range slices.Concat(a.rings, a.others) {
		for _, c := range p.features {
			if !slices.Contains(all, c) {
				all = append(all, c)
			}
		}
	}
	if a.boreWall != nil {
		all = append(all, a.boreWall)
	}
	var out []WallOf
	for _, c := range all {
		if c.wall != "" {
			out = append(out, c.wallOf())
		}
	}
	return out
}

// setFrame puts the datum frame: face, then bore or bolt circle, then the
// clocking hole.
func (a *arranged) setFrame(m *Measurement, opt Options) {
	n := a.mounting.flat.n
	onAxis, axis := a.middle, ""
	switch {
	case m.Bore != nil:
		onAxis, axis = m.Bore.Centre, m.Bore.ID
	case len(m.Circles) > 0:
		onAxis, axis = m.Circles[0].Centre, m.Circles[0].ID
	}
	clock := ""
	toward := onAxis
	switch {
	case opt.Clock != "":
		clock = opt.Clock
	case len(m.Circles) > 0:
		clock = m.Circles[0].Clocking[0].Hole
	case len(m.Patterns) > 0 && len(m.Patterns[0].Holes) == 2:
		clock = m.Patterns[0].Holes[0]
	}
	for _, h := range slices.Concat(m.Holes, m.Studs) {
		if h.ID == clock {
			toward = h.Centre
		}
	}
	fr := DatumFrame(a.mounting.plane.Point, n, onAxis, toward)
	fr.Face, fr.Axis, fr.Clock = a.mounting.id, axis, clock
	m.Frame = &fr
}

// keepOnly drops what is not named. A circle stays while it is named itself or
// no circle is and one of its holes is.
func (m *Measurement) keepOnly(ids []string) {
	in := func(id string) bool { return slices.Contains(ids, id) }
	m.Circles = slices.DeleteFunc(m.Circles, func(c Circle) bool { return !in(c.ID) && !slices.ContainsFunc(c.Holes, in) })
	m.Patterns = slices.DeleteFunc(m.Patterns, func(p Pattern) bool { return !in(p.ID) && !slices.ContainsFunc(p.Holes, in) })
	m.Holes = slices.DeleteFunc(m.Holes, func(h Hole) bool {
		return !in(h.ID) && !slices.ContainsFunc(m.Circles, func(c Circle) bool { return slices.Contains(c.Holes, h.ID) }) &&
			!slices.ContainsFunc(m.Patterns, func(p Pattern) bool { return slices.Contains(p.Holes, h.ID) })
	})
	m.Studs = slices.DeleteFunc(m.Studs, func(h Hole) bool { return !in(h.ID) })
}
