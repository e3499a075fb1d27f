package report

import (
	"fmt"
	"slices"

	"spotface/bolt"
	"spotface/report/wording"
)

// textRows is how many planes and cylinders the text lists; the JSON has all.
const textRows = 12

// minor says that a surface of so many points is a small patch, under 0.5 % of the
// scan: not worth a line for a person, nor a place in a plan.
func (rep *Report) minor(support int) bool { return 200*support < rep.Scan.Points }

// looseHoles writes the holes and studs that belong to no bolt circle.
func (t *text) looseHoles() {
	inCircle := make(map[string]bool)
	for _, c := range t.rep.BoltCircles {
		for _, h := range c.Holes {
			inCircle[h] = true
		}
	}
	t.holeList("Holes outside the bolt circles", "Holes", t.rep.Holes, inCircle)
	t.holeList("Studs outside the bolt circles", "Studs", t.rep.Studs, inCircle)
}

// sizeText prints a hole's diameter, or width x length of a slot over all.
func (h *Hole) sizeText() string {
	with := func(v, u float64) string {
		d := decimals(u)
		return fixed(v, d) + plusMinus(u, d)
	}
	if h.Kind == string(bolt.Slot) {
		return with(h.Width, h.Uncertainty.Width) + " x " + with(h.Length, h.Uncertainty.Length)
	}
	return with(h.Diameter, h.Uncertainty.Diameter)
}

func (t *text) holeList(head, alone string, holes []Hole, skip map[string]bool) {
	tab := wording.Table{Head: []string{"<hole", "<kind", "diameter", "place", "<face", "<seen by"}}
	for i := range holes {
		h := &holes[i]
		if skip[h.ID] {
			continue
		}
		if h.Kind == string(bolt.Slot) {
			tab.Head[2] = "size"
		}
		tab.Add(h.ID, h.Kind, h.sizeText(), t.place(h.Centre), h.Face, h.seenBy())
		tab.Under(t.judged(h.ID)...)
	}
	if tab.Rows() == 0 {
		return
	}
	if len(skip) == 0 {
		head = alone
	}
	t.section()
	if t.rep.Frame != nil {
		head += " (place: x, y in the datum frame, mm)"
	}
	t.line(head)
	tab.Write(&t.b)
}

// place is x, y of a point in the datum frame; empty without one.
func (t *text) place(p Vec) string {
	f := t.rep.Frame
	if f == nil {
		return ""
	}
	q := p
	if !t.rep.InFrame {
		q = f.point(p)
	}
	return fixed(q[0], 2) + ", " + fixed(q[1], 2)
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

// judged lists the verdicts on a feature of the scan.
func (t *text) judged(id string) []string {
	var out []string
	for i := range t.rep.Results {
		r := &t.rep.Results[i]
		if r.scanID() != id || r.Characteristic == Presence || r.Verdict == Missing {
			continue
		}
		s := string(r.Characteristic) + " "
		if r.Measured != nil {
			d := decimals(r.Uncertainty)
			s += fixed(*r.Measured, d) + plusMinus(r.Uncertainty, d) + ", "
		}
		out = append(out, fmt.Sprintf("%s%s: %s", s, r.nominalWithin(), r.Verdict))
	}
	return out
}

// surfaces writes the planes, the bores and bosses that are no hole's wall, the
// cones and the spheres.
func (t *text) surfaces() {
	walls := make(map[string]bool)
	for _, list := range [][]Hole{t.rep.Holes, t.rep.Studs} {
		for _, h := range list {
			for _, id := range h.walls() {
				walls[id] = true
			}
		}
	}
	judged := func(id string) bool { return len(t.judged(id)) > 0 }
	t.faces(judged)
	t.round(walls, judged)
}

func (t *text) faces(judged func(string) bool) {
	tab := wording.Table{Head: []string{"<plane", "<role", "flatness", "<form", "points"}}
	left := 0
	var unclear []string
	for i, p := range t.rep.Planes {
		role := ""
		if t.rep.Frame != nil && p.ID == t.rep.Frame.Face {
			role = "mounting face"
		}
		if (i >= textRows || t.rep.minor(p.Support)) && role == "" && !judged(p.ID) {
			left++
			continue
		}
		if p.FormOrNoise {
			unclear = append(unclear, p.ID)
		}
		flat := ""
		if p.Flatness != nil {
			d := decimals(p.Uncertainty.Flatness)
			flat = fixed(*p.Flatness, d) + plusMinus(p.Uncertainty.Flatness, d)
		}
		tab.Add(p.ID, role, flat, p.Form, wording.Count(p.Support))
		tab.Under(t.judged(p.ID)...)
	}
	if tab.Rows() == 0 {
		return
	}
	t.section()
	t.line("Planes (mm)")
	tab.Write(&t.b)
	if left > 0 {
		t.line("  and ", things(left, "small one")+", each under 0.5 % of the scan")
	}
	t.formOrNoise("flatness", unclear)
}

// formOrNoise says of which surfaces the scan cannot tell the form.
func (t *text) formOrNoise(what string, ids []string) {
	if len(ids) > 0 {
		t.paragraph(fmt.Sprintf("The %s of %s may be the scanner's noise and not the part's: it hangs together over so much of the surface that this scan cannot tell. The true one lies anywhere from 0 to twice the figure.",
			what, wording.List(ids)), "")
	}
}

func (t *text) round(walls map[string]bool, judged func(string) bool) {
	tab := wording.Table{Head: []string{"<", "<role", "diameter", "length", "seen over", "cylindricity", "<form"}}
	left := 0
	shown := 0
	var unclear []string // of those whose form is printed
	formed := func(c *Cylinder) bool { return c.Form != "" && c.Cylindricity != nil }
	for _, c := range t.rep.Cylinders {
		role := "bore"
		if c.Side == External {
			role = "boss"
		}
		if t.rep.Frame != nil && c.ID == t.rep.Frame.Axis {
			role = "main bore"
		}
		if !judged(c.ID) && (walls[c.ID] || ((shown >= textRows || t.rep.minor(c.Support)) && role != "main bore")) {
			if !walls[c.ID] {
				left++
			}
			continue
		}
		shown++
		if c.FormOrNoise && (formed(&c) || t.result(c.ID, Cylindricity) != nil) {
			unclear = append(unclear, c.ID)
		}
		d := decimals(c.Uncertainty.Diameter)
		round, kind := "", ""
		if formed(&c) {
			u := decimals(c.Uncertainty.Cylindricity)
			round, kind = fixed(*c.Cylindricity, u)+plusMinus(c.Uncertainty.Cylindricity, u), c.Form
		}
		tab.Add(c.ID, role, fixed(c.Diameter, d)+plusMinus(c.Uncertainty.Diameter, d),
			fixed(c.Length, 1), fmt.Sprintf("%.0f degrees", c.ArcDeg), round, kind)
		tab.Under(t.judged(c.ID)...)
	}
	for _, c := range t.rep.Cones {
		if t.rep.minor(c.Support) {
			left++
			continue
		}
		role := "cone, inside"
		if c.Side == External {
			role = "cone, outside"
		}
		size := ""
		if b := t.rep.Bore; b != nil && b.Wall == c.ID {
			role = "main bore, a cone"
			size = fixed(b.Diameter, 2) + " in its middle, "
		}
		u := 2 * c.Uncertainty.HalfAngleDeg
		d := max(1, decimals(u))
		tab.Add(c.ID, role, fmt.Sprintf("%s%s%s degrees included", size, fixed(2*c.HalfAngleDeg, d), plusMinus(u, d)), fixed(c.Length, 1),
			fmt.Sprintf("%.0f degrees", c.ArcDeg))
	}
	for _, s := range t.rep.Spheres {
		if t.rep.minor(s.Support) {
			left++
			continue
		}
		role := "dish"
		if s.Side == External {
			role = "ball"
		}
		d := decimals(s.Uncertainty.Diameter)
		tab.Add(s.ID, role, fixed(s.Diameter, d)+plusMinus(s.Uncertainty.Diameter, d), "", "")
	}
	if tab.Rows() == 0 {
		return
	}
	t.section()
	t.line("Bores, bosses and other round surfaces (mm; walls of holes are above)")
	tab.Write(&t.b)
	if left > 0 {
		t.line("  and ", things(left, "small one"))
	}
	t.formOrNoise("cylindricity", unclear)
}

// plane and cylinder return the feature called id, or nil.
func (rep *Report) plane(id string) *Plane {
	i := slices.IndexFunc(rep.Planes, func(p Plane) bool { return p.ID == id })
	if i < 0 {
		return nil
	}
	return &rep.Planes[i]
}

func (rep *Report) cylinder(id string) *Cylinder {
	i := slices.IndexFunc(rep.Cylinders, func(c Cylinder) bool { return c.ID == id })
	if i < 0 {
		return nil
	}
	return &rep.Cylinders[i]
}
