package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"spotface/bolt"
	"spotface/bolt/pattern"
	"spotface/report/wording"
)

// circle says what a bolt circle is and which of its holes are off.
func (b *viewer) circle(c *BoltCircle, named bool) []Statement {
	n := len(c.Clocking)
	if n == 0 {
		return []Statement{{Text: c.ID + ": a bolt circle whose holes are not known."}}
	}
	thing := "hole"
	if strings.HasPrefix(c.Clocking[0].Hole, "D") {
		thing = "stud"
	}
	text := wording.Things(n, thing)
	if named {
		text = c.ID + ": " + text
	}
	regular := "the plan's pattern"
	if m := c.Nominal; m != nil {
		regular = fmt.Sprintf("a true %s degree pattern", wording.Short(m.SpacingDeg))
		text += fmt.Sprintf(", %s degrees apart", wording.Short(m.SpacingDeg))
		if !m.FullRing {
			text += " (part of a ring)"
		}
		if len(m.Missing) > 0 {
			text += fmt.Sprintf(" with none at %s degrees", wording.List(each(m.Missing, wording.Short)))
		}
		text += ","
	}
	pitch, pitchU := c.PitchDiameter, c.Uncertainty.PitchDiameter
	if k := c.Corrected; k != nil {
		pitch, pitchU = k.PitchDiameter, k.Uncertainty.PitchDiameter
	}
	all := b.unit.number(pitch, pitchU)
	text += fmt.Sprintf(" on a bolt circle of %s %s", all.WithU(), b.unit.name)
	so := c.Standouts
	v := c.PitchDiameterOnPattern
	on := b.unit.number(v, c.Uncertainty.PitchDiameterOnPattern)
	if so != nil && len(so.Holes) > 0 && c.Corrected == nil && math.Abs(v-pitch) > pitchU &&
		on.Value != all.Value {
		text += fmt.Sprintf(" (%s through those on pattern)", on)
	}
	if m := c.Nominal; m != nil && len(m.Offset) > 0 {
		text += fmt.Sprintf(", %s off its even place on purpose", wording.List(m.Offset))
	}
	off := c.largest(func(k *Clocking) (v, u float64) { return k.off() })
	out := c.largest(func(k *Clocking) (v, u float64) { return k.out(n) })
	// What is called off is more than its expanded uncertainty: one of n holes is by chance.
	ids := each(c.Clocking, func(k Clocking) string { return k.Hole })
	z := pattern.StandsOut(n, 0.05, bolt.LeastDOF(b.rep.BoltHoles(ids...))) / Coverage
	shows := "anything over " + offAngle(z*off.u, off.u).upper() + " degrees"
	if out.u > 0 {
		shows += fmt.Sprintf(" or %s %s", b.unit.number(z*out.u, out.u).upper(), b.unit.name)
	}
	one := func(s string) []Statement { return []Statement{{Text: text + s}} }
	turned := fmt.Sprintf("%s degrees %%s(%s", offAngle(math.Abs(off.v), off.u), off.hole)
	switch {
	case c.Clocking[0].DeviationDeg == nil:
		return one(", in no regular pattern: there is nothing to hold their angles against.")
	case off.u == 0:
		return one(": how sure their places are is not known, so none can be called off.")
	case so == nil && off.ratio > 1:
		return one(": up to " + fmt.Sprintf(turned, "off ") + ", +-" + offAngle(off.u, off.u).upper() +
			"); with so few holes no single one can be blamed.")
	case so == nil || len(so.Holes) == 0 && !so.Scatter:
		return one(": all on pattern (" + shows + " would show).")
	case so.Scatter:
		// One of the two may only follow from the other, which moves the circle.
		along, across := math.Abs(off.v)*math.Pi/180*c.PitchDiameter/2, math.Abs(out.v)
		var how []string
		if off.ratio > 1 && along > across/4 {
			how = append(how, fmt.Sprintf(turned, "round the circle ")+")")
		}
		if out.ratio > 1 && across > along/4 {
			how = append(how, b.unit.text(across, out.u)+" in or out ("+out.hole+")")
		}
		return one(". THEY SCATTER: the whole pattern is out, not one bad hole: up to " +
			wording.List(how) + ".")
	}
	k := len(so.Holes)
	s := Statement{Text: text + fmt.Sprintf(". %s OFF:",
		strings.ToUpper(wording.Word(k)+plural(k, " is", " are")))}
	for _, h := range so.Holes {
		s.Points = append(s.Points, h.Hole+": "+b.standout(h))
	}
	rest := "The other " + wording.Word(n-k)
	if so.RestScatter > 0 {
		rest += fmt.Sprintf(" hold %s to %s (RMS).", regular, b.unit.text(so.RestScatter, 0))
	} else {
		rest += fmt.Sprintf(" are on %s (+-%s degrees).", regular, offAngle(off.u, off.u).upper())
	}
	return []Statement{s, {Text: rest}}
}

// standout says where a hole lies against the ring of those on pattern.
func (b *viewer) standout(h Standout) string {
	var how []string
	if h.Turned {
		way := map[bool]string{true: "clockwise", false: "counter-clockwise"}[h.Deg < 0]
		how = append(how, fmt.Sprintf("%s degrees %s, %s along the circle (+-%s degrees)",
			offAngle(math.Abs(h.Deg), h.DegU), way, b.unit.text(math.Abs(h.Along), h.AlongU),
			offAngle(h.DegU, h.DegU).upper()))
	}
	if h.Shifted {
		way := map[bool]string{true: "in", false: "out"}[h.Out < 0]
		how = append(how, fmt.Sprintf("%s too far %s (+-%s)",
			b.unit.text(math.Abs(h.Out), h.OutU), way, b.unit.number(h.OutU, h.OutU).upper()))
	}
	return wording.List(how)
}

// off is the hole's one figure for being turned: from the ring of the holes on pattern,
// where one is known, else from the nominal pattern laid on all.
func (k *Clocking) off() (deg, u float64) {
	switch {
	case k.FromPatternDeg != nil:
		return *k.FromPatternDeg, k.FromPatternUncertaintyDeg
	case k.DeviationDeg != nil:
		return *k.DeviationDeg, k.UncertaintyDeg
	}
	return 0, 0
}

// out is how far out of that ring it lies, mm, among so many holes: three lie on theirs
// exactly.
func (k *Clocking) out(holes int) (mm, u float64) {
	switch {
	case k.FromPatternOut != nil:
		return *k.FromPatternOut, k.FromPatternOutUncertainty
	case holes > 3 && k.DeviationDeg != nil:
		return k.Radial, k.RadialUncertainty
	}
	return 0, 0
}

// worst is the figure of the hole that is farthest off, by ratio to its uncertainty, and the
// largest uncertainty of those on pattern.
type worst struct {
	v, u  float64
	hole  string
	ratio float64
}

// largest finds the worst of a figure among the holes of c.
func (c *BoltCircle) largest(of func(*Clocking) (float64, float64)) (w worst) {
	for i := range c.Clocking {
		k := &c.Clocking[i]
		v, u := of(k)
		if u > 0 && math.Abs(v)/u > w.ratio {
			w.ratio, w.v, w.hole = math.Abs(v)/u, v, k.Hole
		}
		if k.OnPattern || c.Standouts == nil || len(c.Standouts.Holes) == 0 {
			w.u = max(w.u, u)
		}
	}
	return w
}

// drill lists the holes of a bolt circle with their places in the datum frame.
func (b *viewer) drill(c *BoltCircle) {
	d := Drill{Pattern: c.ID, Title: "Drill table"}
	if len(b.rep.BoltCircles) > 1 {
		d.Title += " of " + c.ID
	}
	d.Title += b.fromOrigin()
	for i := range c.Clocking {
		k := &c.Clocking[i]
		h := b.rep.Hole(k.Hole)
		if h == nil {
			continue
		}
		it := b.item(*h)
		it.Of, it.Angle = c.ID, raw(k.AngleDeg, k.UncertaintyDeg)
		if v, u := k.off(); k.DeviationDeg != nil {
			it.Off = raw(v, u)
		}
		if v, u := k.out(len(c.Clocking)); u > 0 {
			it.Out = b.unit.raw(v, u)
		}
		if so := c.Standouts; so != nil {
			for _, s := range so.Holes {
				if s.Hole == k.Hole {
					it.Turned, it.Shifted = s.Turned, s.Shifted
				}
			}
		}
		d.Items = append(d.Items, it)
	}
	b.addDrill(d)
}

// figure is a number of items, as tables have it in a column.
type figure struct {
	name     string
	length   bool
	of       func(*Item) *Number
	decimals func(u float64) int // of what is no length
	off      func(*Item) bool    // nil: it is no deviation
}

// figures are the numbers of an item in the order of the tables' columns.
var figures = [...]figure{
	{"X", true, func(i *Item) *Number { return &i.X }, nil, nil},
	{"Y", true, func(i *Item) *Number { return &i.Y }, nil, nil},
	{"angle", false, func(i *Item) *Number { return &i.Angle }, func(float64) int { return 3 }, nil},
	{"off", false, func(i *Item) *Number { return &i.Off }, offDecimals,
		func(i *Item) bool { return i.Turned }},
	{"out", true, func(i *Item) *Number { return &i.Out }, nil,
		func(i *Item) bool { return i.Shifted }},
	{"diameter", true, func(i *Item) *Number { return &i.Diameter }, nil, nil},
	{"length", true, func(i *Item) *Number { return &i.Length }, nil, nil},
	{"form", true, func(i *Item) *Number { return &i.Form }, nil, nil},
	{"half-angle", false, func(i *Item) *Number { return &i.HalfDeg }, wording.Decimals, nil},
}

// addDrill rounds each column of a drill table by its smallest uncertainty and adds it.
func (b *viewer) addDrill(d Drill) {
	if len(d.Items) == 0 {
		return
	}
	for _, f := range figures {
		u := 0.0
		for i := range d.Items {
			if n := f.of(&d.Items[i]); n.U > 0 && (u == 0 || n.U < u) {
				u = n.U
			}
		}
		decimals := f.decimals
		if f.length {
			decimals = b.unit.decimals
		}
		for i := range d.Items {
			if n := f.of(&d.Items[i]); n.Decimals > 0 {
				*n = n.rounded(decimals(u))
			}
		}
	}
	b.v.Drill = append(b.v.Drill, d)
}

// fromOrigin says where the datum frame has its origin and its X; "" where there is none.
func (b *viewer) fromOrigin() string {
	f := b.rep.Frame
	if f == nil {
		return ""
	}
	s := ": from the centre of bore " + f.Axis
	switch c := b.rep.Cylinder(f.Axis); {
	case c != nil && c.Side == External:
		s = ": from the centre of " + f.Axis
	case strings.HasPrefix(f.Axis, "B"):
		s = ": from the centre of bolt circle " + f.Axis
	case f.Axis == "" && len(b.rep.Patterns) > 0:
		s = ": from the middle of " + b.rep.Patterns[0].ID
	case f.Axis == "":
		s = ": from the middle of the face"
	}
	if f.Clock != "" {
		s += ", X through " + f.Clock
	}
	return s
}

// item is a hole or stud with its place in the datum frame.
func (b *viewer) item(h Hole) Item {
	it := Item{ID: h.ID, What: h.what(), Face: h.Face, SeenBy: h.seenBy()}
	d, u := h.Corrected.orDiameter(h.Diameter, h.Uncertainty.Diameter)
	if h.Kind != string(bolt.Round) {
		d, u = h.Width, h.Uncertainty.Width
		length, lu := h.Length, h.Uncertainty.Length
		if k := h.Corrected; k != nil {
			d, u, length, lu = k.Width, k.Uncertainty.Width, k.Length, k.Uncertainty.Length
		}
		it.Length = b.unit.raw(length, lu)
	}
	if d > 0 {
		it.Diameter = b.unit.raw(d, u)
	}
	if h.XY != nil {
		xy, xyU := *h.XY, h.Uncertainty.XY
		if k := h.Corrected; k != nil && k.XY != nil {
			xy, xyU = *k.XY, k.Uncertainty.XY
		}
		it.X, it.Y = b.unit.raw(xy[0], xyU), b.unit.raw(xy[1], xyU)
	}
	return it
}

// what it is in a word.
func (h *Hole) what() string {
	switch {
	case h.Kind != string(bolt.Round):
		return h.Kind
	case strings.HasPrefix(h.ID, "D"):
		return "stud"
	}
	return "hole"
}

func (h *Hole) seenBy() string {
	s := h.From
	if h.ArcDeg > 0 && h.ArcDeg < 350 {
		of := "it"
		if h.Kind == string(bolt.Slot) {
			of = "its ends"
		}
		s += fmt.Sprintf(", %.0f degrees of %s", h.ArcDeg, of)
	}
	return s
}

// grid says what a pattern is that is no bolt circle, and lists its holes.
func (b *viewer) grid(p *HolePattern) Statement {
	pitch := func(k int) string { return b.unit.number(p.Pitch[k], p.PitchU[k]).WithU() }
	var what string
	switch n := wording.Things(len(p.Holes), "hole"); {
	case len(p.Holes) == 2:
		what = fmt.Sprintf("%s, %s %s apart, centre to centre", b.alike(p.Holes), pitch(0), b.unit.name)
	case p.Rows == 1:
		what = fmt.Sprintf("%s in a line, %s %s apart", n, pitch(0), b.unit.name)
	case p.Kind == string(pattern.Rectangle):
		what = fmt.Sprintf("%s on a rectangle of %s by %s %s", n, pitch(0), pitch(1), b.unit.name)
	default:
		what = fmt.Sprintf("%s in a grid of %d by %d, %s by %s %s apart",
			n, p.Rows, p.Columns, pitch(0), pitch(1), b.unit.name)
	}
	if p.OtherReadingOf != "" {
		return Statement{Text: fmt.Sprintf("%s is a square of %s %s as well (%s).",
			p.OtherReadingOf, pitch(0), b.unit.name, p.ID)}
	}
	d := Drill{Pattern: p.ID, Title: "Drill table of " + p.ID + b.fromOrigin()}
	for _, id := range p.Holes {
		if h := b.rep.Hole(id); h != nil {
			d.Items = append(d.Items, b.item(*h))
		}
	}
	b.addDrill(d)
	if len(p.Deviations) == 0 { // of two holes
		return Statement{Text: p.ID + ": " + what + "."}
	}
	worst, ratio := p.Deviations[0], 0.0
	for _, d := range p.Deviations {
		if r := math.Hypot(d.XY[0], d.XY[1]) / d.Uncertainty; r > ratio {
			worst, ratio = d, r
		}
	}
	u := worst.Uncertainty
	if ratio > 1 {
		what += fmt.Sprintf("; %s lies farthest from its place: %s %s", worst.Hole,
			b.unit.number(math.Hypot(worst.XY[0], worst.XY[1]), u).WithU(), b.unit.name)
	} else {
		what += fmt.Sprintf("; all in place within %s %s", b.unit.number(u, u).upper(), b.unit.name)
	}
	return Statement{Text: p.ID + ": " + what + "."}
}

// alike says how many holes or studs these are, and of which size.
func (b *viewer) alike(ids []string) string {
	var sum, u float64
	thing := "hole"
	for _, id := range ids {
		h := b.rep.Hole(id)
		if h == nil { // but in a damaged report
			return wording.Things(len(ids), thing)
		}
		d, dU := h.Corrected.orDiameter(h.Diameter, h.Uncertainty.Diameter)
		sum, u, thing = sum+d, max(u, dU), h.what()
	}
	n := len(ids)
	return fmt.Sprintf("%s of %s", wording.Things(n, thing), b.unit.text(sum/float64(n), u))
}

// looseHoles lists the holes and studs that belong to no pattern.
func (b *viewer) looseHoles() {
	var in []string
	for _, p := range b.rep.Patterns {
		in = append(in, p.Holes...)
	}
	for _, c := range b.rep.BoltCircles {
		in = append(in, c.Holes...)
	}
	titles, from := [2]string{"Other holes", "Studs"}, ""
	if len(in) == 0 {
		titles[0], from = "Holes", b.fromOrigin()
	}
	if b.rep.Bore != nil {
		in = append(in, b.rep.Bore.ID) // one that only its rim shows is among the holes
	}
	for k, list := range [2][]Hole{b.rep.Holes, b.rep.Studs} {
		loose := slices.DeleteFunc(slices.Clone(list),
			func(h Hole) bool { return slices.Contains(in, h.ID) })
		b.addDrill(Drill{Title: titles[k] + from, Items: each(loose, b.item)})
	}
}

// spacing lists the angles from hole to hole, and how far off each is from the clocking
// hole, which adds no errors up; and the clocking about the bore, where that differs.
func (b *viewer) spacing(c *BoltCircle) {
	if len(c.Clocking) == 0 {
		return
	}
	tab := &wording.Table{Head: []string{"<hole to hole", "angle, deg", "nominal, deg", "off, deg",
		"off from " + c.Clocking[0].Hole + ", deg"}}
	for _, k := range c.Spacing {
		row := []string{k.From + " to " + k.To, wording.Fixed(k.AngleDeg, 3), "", "", ""}
		if k.NominalDeg != nil && k.DeviationDeg != nil {
			row[2] = wording.Short(*k.NominalDeg)
			row[3] = offAngle(*k.DeviationDeg, k.UncertaintyDeg).SignedU()
		}
		for i := range c.Clocking {
			if to := &c.Clocking[i]; to.Hole == k.To && i > 0 && to.NominalDeg != nil {
				row[4] = offAngle(to.AngleDeg-*to.NominalDeg, to.UncertaintyDeg).Signed()
			}
		}
		tab.Add(row...)
	}
	b.detail("Hole to hole, "+c.ID, tab)
	a := c.AboutBore
	if a == nil {
		return
	}
	about := &wording.Table{Head: []string{"<hole", "off, deg"}}
	for _, k := range a.Clocking {
		about.Add(k.Hole, offAngle(k.DeviationDeg, k.UncertaintyDeg).SignedU())
	}
	b.detail("Clocking about the bore, "+c.ID, about, fmt.Sprintf("The centre of %s lies %s %s from "+
		"the bore's.", c.ID, b.unit.number(a.Offset, a.Uncertainty).WithU(), b.unit.name))
}
