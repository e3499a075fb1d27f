package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"spotface/report/wording"
)

// Roles of round surfaces by the share of their circumference that is there.
const (
	// fewDegrees and less of a cylinder is a rounded corner or edge; common practice, no
	// source. TestRoundSurfacesAreNamed.
	fewDegrees = 100
	// notchDegrees and less, of several that are alike, is a notch that an edge cuts off;
	// a bore that a scanner saw in part shows more, or is alone. TestRoundSurfacesAreNamed.
	notchDegrees = 260
)

// surfaces names the faces and the round surfaces that are no hole's wall. What is alike
// is listed once.
func (b *viewer) surfaces() {
	rep := b.rep
	walls := make(map[string]string) // ids of walls: whose they are
	for _, h := range slices.Concat(rep.Holes, rep.Studs) {
		for _, id := range h.walls() {
			walls[id] = h.ID
		}
	}
	if k := rep.Bore; k != nil && rep.Cylinder(k.Wall) == nil {
		it := Item{ID: k.ID, What: "main bore", Face: k.Face, SeenBy: k.seenBy(),
			Diameter: b.unit.number(k.Corrected.orDiameter(k.Diameter, k.Uncertainty.Diameter))}
		if k.Wall != "" {
			it.What = "main bore, a cone"
		}
		b.add(it)
	}
	outside := b.outside(walls)
	for i := range rep.Cylinders {
		c := &rep.Cylinders[i]
		what := b.role(c, outside)
		if walls[c.ID] != "" || !b.shown(c.ID, c.Support, what == "main bore") {
			continue
		}
		d, u := c.Corrected.orDiameter(c.Diameter, c.Uncertainty.Diameter)
		it := Item{ID: c.ID, What: what,
			Diameter: b.unit.number(d, u),
			Length:   b.unit.number(c.Length, 0), SeenBy: fmt.Sprintf("%.0f degrees", c.ArcDeg)}
		if c.Form != "" {
			b.form(&it, c.Cylindricity, c.Uncertainty.Cylindricity, c.Form, c.FormOrNoise)
		}
		b.add(it)
	}
	for i := range rep.Cones {
		c := &rep.Cones[i]
		if !b.shown(c.ID, c.Support, false) || rep.Bore != nil && rep.Bore.Wall == c.ID {
			continue
		}
		it := Item{ID: c.ID, What: "cone", SeenBy: fmt.Sprintf("%.0f degrees", c.ArcDeg),
			Length: b.unit.number(c.Length, 0)}
		u := c.Uncertainty.HalfAngleDeg
		it.HalfDeg = raw(c.HalfAngleDeg, u).rounded(wording.Decimals(u))
		b.nameEdge(&it, c, walls)
		b.add(it)
	}
	for _, s := range rep.Spheres {
		if b.shown(s.ID, s.Support, false) {
			what := "dish"
			if s.Side == External {
				what = "ball"
			}
			b.add(Item{ID: s.ID, What: what,
				Diameter: b.unit.number(s.Diameter, s.Uncertainty.Diameter)})
		}
	}
	first := map[string]int{"main bore": -3, "main bore, a cone": -2, "outside diameter": -1}
	slices.SortStableFunc(b.v.Surfaces, func(x, y Item) int { return first[x.What] - first[y.What] })
	for i := range b.v.Surfaces {
		if it := &b.v.Surfaces[i]; it.What == "notch" && len(it.Like) == 0 {
			it.What = "notch, or a bore seen in part"
		}
	}
	for _, p := range rep.Planes {
		what := "face"
		if rep.Frame != nil && p.ID == rep.Frame.Face {
			what = "mounting face"
		}
		if !b.shown(p.ID, p.Support, what == "mounting face") {
			continue
		}
		it := Item{ID: p.ID, What: what}
		b.form(&it, p.Flatness, p.Uncertainty.Flatness, p.Form, p.FormOrNoise)
		b.v.Surfaces = append(b.v.Surfaces, it)
	}
}

// add lists a round surface, or counts it to one that is alike.
func (b *viewer) add(it Item) {
	same := func(x, y Number) bool {
		return math.Abs(x.Value-y.Value) <= max(math.Hypot(x.U, y.U), 1e-3*math.Abs(x.Value))
	}
	i := slices.IndexFunc(b.v.Surfaces, func(k Item) bool {
		return k.What == it.What && same(k.Diameter, it.Diameter) && same(k.HalfDeg, it.HalfDeg) &&
			it.Form == k.Form && !b.isJudged(it.ID)
	})
	if i < 0 {
		b.v.Surfaces = append(b.v.Surfaces, it)
		return
	}
	b.v.Surfaces[i].Like = append(b.v.Surfaces[i].Like, it)
}

// shown reports whether a filter of the measurement left a surface that is worth a line: a
// main one, one of many points, or one that the plan judges.
func (b *viewer) shown(id string, support int, main bool) bool {
	return (len(b.rep.Only) == 0 || slices.Contains(b.rep.Only, id)) &&
		(main || !b.rep.Minor(support) || b.isJudged(id))
}

func (b *viewer) isJudged(id string) bool {
	return slices.ContainsFunc(b.results,
		func(r Result) bool { return r.scanID() == id && r.Verdict != Missing })
}

// outside is the outermost round surface: the largest external cylinder along the frame's
// Z that has all holes within, or of any direction without a frame.
func (b *viewer) outside(walls map[string]string) string {
	id, most := "", 0.0
	for _, h := range b.rep.Holes {
		if h.XY != nil {
			most = max(most, 2*math.Hypot(h.XY[0], h.XY[1]))
		}
	}
	for i := range b.rep.Cylinders {
		c := &b.rep.Cylinders[i]
		if c.Side == External && walls[c.ID] == "" && c.ArcDeg > fewDegrees &&
			c.Diameter > most && (b.rep.Frame == nil || b.fromAxis(c) < c.Diameter/10) {
			id, most = c.ID, c.Diameter
		}
	}
	return id
}

// fromAxis is how far the axis of c lies from the frame's, mm; infinite where it is not
// along it, or there is no frame.
func (b *viewer) fromAxis(c *Cylinder) float64 {
	f := b.rep.Frame
	if f == nil {
		return math.Inf(1)
	}
	p, a := c.Point, c.Axis
	if !b.rep.InFrame {
		p, a = f.Point(p), f.Direction(a)
	}
	if math.Abs(a[2]) < alongAxis {
		return math.Inf(1)
	}
	return math.Hypot(p[0]-a[0]/a[2]*p[2], p[1]-a[1]/a[2]*p[2])
}

// alongAxis is the cosine of 3 degrees, by which axes of one part may differ and still be
// called the same direction; a judgement of words, not of size.
const alongAxis = 0.9986

// role names a cylinder.
func (b *viewer) role(c *Cylinder, outside string) string {
	coaxial := b.fromAxis(c) < c.Diameter/10
	switch main := b.rep.Frame != nil && c.ID == b.rep.Frame.Axis; {
	case main:
		return "main bore"
	case c.ArcDeg <= fewDegrees && c.Side == Internal:
		return "rounded corner"
	case c.Side == Internal && c.ArcDeg <= notchDegrees:
		return "notch"
	case c.Side == Internal:
		return "bore"
	case c.ID == outside:
		return "outside diameter"
	case c.ArcDeg <= notchDegrees && !coaxial:
		return "rounded edge"
	case coaxial:
		return "hub"
	}
	return "boss"
}

// nameEdge names a cone by the round surface that it breaks the edge of.
func (b *viewer) nameEdge(it *Item, c *Cone, walls map[string]string) {
	for i := range b.rep.Cylinders {
		k := &b.rep.Cylinders[i]
		d := c.Apex.R3().Sub(k.Point.R3())
		apart := d.Cross(k.Axis.R3()).Norm()
		if k.Side != c.Side || math.Abs(k.Axis.R3().Dot(c.Axis.R3())) < alongAxis ||
			apart > k.Diameter/10 {
			continue
		}
		if c.Side == Internal && walls[k.ID] != "" {
			it.What, it.Of = "countersink", walls[k.ID]
			return
		}
		// A cone that goes on to a point is no chamfer: that takes off a part of the radius.
		if c.Length*math.Tan(c.HalfAngleDeg*math.Pi/180) < k.Diameter/4 {
			it.What = "chamfer"
			if length := b.chamferLength(c, k); length > 0 {
				it.Length = b.unit.number(length, 0)
				return
			}
		}
	}
}

// chamferLength is how long, mm, a chamfer is along its axis, from where its cone meets the
// cylinder to where it meets the face: scanners round both edges, so that what is seen of
// the cone ends elsewhere. It is 0 where the cone does not lie between the two.
func (b *viewer) chamferLength(c *Cone, k *Cylinder) float64 {
	// r = z tan(half-angle), z along the axis from the apex
	edge := k.Diameter / 2 / math.Tan(c.HalfAngleDeg*math.Pi/180)
	along := func(p Vec) float64 { return p.R3().Sub(c.Apex.R3()).Dot(c.Axis.R3()) }
	middle := along(c.Point)
	end := middle + math.Copysign(c.Length/2, middle-edge)
	near := max(c.Length/2, nearFace)
	length := 0.0
	for _, p := range b.rep.Planes {
		z := along(p.Point)
		if d := math.Abs(z - end); d < near && math.Abs(2*middle-end-edge) < max(c.Length/2, nearFace) &&
			math.Abs(p.Normal.R3().Dot(c.Axis.R3())) > alongAxis {
			length, near = math.Abs(z-edge), d
		}
	}
	return length
}

const orNoiseWords = "or the scanner's noise"

// form notes the form of a surface, mm, where it is known.
func (b *viewer) form(it *Item, mm *float64, u float64, kind string, orNoise bool) {
	if mm == nil {
		return
	}
	it.Form, it.FormKind = b.unit.number(*mm, u), kind
	if orNoise {
		it.FormKind = strings.TrimPrefix(kind+", "+orNoiseWords, ", ")
	}
}

// sizes are the words of a first screen on bore, outside and mounting face.
func (b *viewer) sizes() {
	for _, it := range b.v.Surfaces {
		if it.What == "face" || strings.HasPrefix(it.What, "rounded") || it.What == "countersink" {
			continue
		}
		b.v.Sizes = append(b.v.Sizes, it.words(b.unit.name))
	}
}

// words is "bore 40.001 +-0.015", "22 notches of 6.35", "chamfer 2.0 x 45 degrees".
func (it *Item) words(unit string) string {
	switch n := 1 + len(it.Like); {
	case it.What == "mounting face" && it.Form.Decimals == 0:
		return "mounting face " + it.ID
	case it.What == "mounting face":
		return "face " + it.flat(unit)
	case it.What == "chamfer":
		what := plural(n, "chamfer", "%d chamfers of")
		return fmt.Sprintf("%s %s %s x %.0f degrees", what, it.Length, unit, it.HalfDeg.Value)
	case it.HalfDeg.Decimals > 0:
		return fmt.Sprintf("cone %s %s of half-angle %s degrees", it.ID, it.What, it.HalfDeg)
	case n > 1:
		many := it.What + "s"
		if strings.HasSuffix(it.What, "h") || strings.HasSuffix(it.What, "s") {
			many = it.What + "es"
		}
		return fmt.Sprintf("%d %s of %s %s", n, many, it.Diameter, unit)
	default:
		return fmt.Sprintf("%s %s %s", strings.TrimPrefix(it.What, "main "), it.Diameter.WithU(),
			unit)
	}
}

// flat says a form in words: a form that is not above its uncertainty is the scan's limit.
func (it *Item) flat(unit string) string {
	f := it.Form
	if unit != "" {
		unit = " " + unit
	}
	if f.Value > f.U {
		return "flat within " + f.WithU() + unit
	}
	return "flat within " + raw(f.Value+f.U, 0).rounded(f.Decimals).upper() + unit +
		" (the limit of this scan)"
}

// tables are of all surfaces, and of where the holes lie.
func (b *viewer) tables() {
	unit := b.unit.name
	head := func(s string) string { return s + ", " + unit }
	round := &wording.Table{Head: []string{"<", "<what", head("diameter"), head("length"),
		"half-angle, deg", "seen over", head("cylindricity"), "<form"}}
	faces := &wording.Table{Head: []string{"<", "<what", head("flat within"), "<form"}}
	for _, it := range b.v.Surfaces {
		if strings.HasSuffix(it.What, "face") {
			form := ""
			if it.Form.Decimals > 0 {
				form = strings.TrimPrefix(it.flat(""), "flat within ")
			}
			faces.Add(it.ID, it.What, form, it.FormKind)
			continue
		}
		what := it.What
		if it.Of != "" {
			what += " of " + it.Of
		}
		if n := len(it.Like); n > 0 {
			what += fmt.Sprintf(" (%d alike, to %s)", n+1, it.Like[n-1].ID)
		}
		round.Add(it.ID, what, it.Diameter.WithU(), it.Length.String(), it.HalfDeg.WithU(),
			it.SeenBy, it.Form.WithU(), it.FormKind)
	}
	b.detail("Round surfaces; walls of holes are above", round)
	var unclear []string
	for _, it := range b.v.Surfaces {
		if strings.HasSuffix(it.FormKind, orNoiseWords) {
			unclear = []string{"Where a form may be the scanner's noise, the true one lies " +
				"anywhere from 0 to twice the figure: the noise is correlated over too much of " +
				"the surface to distinguish them."}
		}
	}
	b.detail("Faces", faces, unclear...)
	where := "in the scan's own position"
	if b.rep.InFrame {
		where = "in the datum frame"
	}
	at := &wording.Table{Head: []string{"<", "<face", head("x"), head("y"), head("z"), head("+-"),
		"<seen by"}}
	for _, h := range slices.Concat(b.rep.Holes, b.rep.Studs) {
		centreU := h.Uncertainty.Centre
		n := func(k int) string { return b.unit.number(h.Centre[k], centreU).String() }
		u := ""
		if centreU > 0 {
			u = b.unit.number(centreU, centreU).upper()
		}
		at.Add(h.ID, h.Face, n(0), n(1), n(2), u, h.seenBy())
	}
	b.detail("Centres of holes, "+where, at)
}
