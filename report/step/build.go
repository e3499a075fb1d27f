package step

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/golang/geo/r2"

	"spotface/report"
	"spotface/report/wording"
)

// Options says what the scan did not show.
type Options struct {
	// Thickness is the distance, mm, from the mounting face to the far side of a part of
	// which only one side was scanned. Zero leaves it open.
	Thickness float64
}

// ErrNoFaces says that a report has no face perpendicular to its frame's axis whose outline
// is a wall.
var ErrNoFaces = errors.New("step: no face is bounded by walls along the part's axis: there is " +
	"nothing to write")

// Of returns the body that a report's faces make, in its datum frame, and sentences about
// what is missing in it or was not seen, and what volume a solid has. Axes that are nearly
// parallel to the frame's are made parallel; each wall keeps its own measured centre and
// radius.
//
// The uncertainty of the volume comes from what is stated for planes and cylinders, holes among
// them: of their offset or radius, and of their form as if all of it were possible for their
// mean. Not in it: rounded edges, cones by themselves, what is left out, a given thickness,
// what a scanner's errors have in common over several faces.
//
// Errors: report.ErrNoFrame, ErrNoFaces.
func Of(rep *report.Report, opt Options) (Body, []string, error) {
	in, err := report.InDatumFrame(rep)
	if err != nil {
		return Body{}, nil, err
	}
	b := &builder{rep: in, used: map[string]bool{}, given: opt.Thickness > 0}
	b.findLevels()
	b.findWalls()
	b.outline(opt.Thickness)
	b.cones()
	b.join()
	if b.ground(); opt.Thickness > 0 && b.stoodOn == "" {
		b.levels = append(b.levels, level{name: "far side", z: -opt.Thickness})
		b.far = true
		b.join()
	}
	b.cut()
	b.walls = slices.DeleteFunc(b.walls, func(w seenWall) bool {
		return !(w.low.z < w.high.z) && w.low.level == noLevel
	})
	body := Body{Name: rep.Scan.File, Floors: b.floors(), Walls: b.joined()}
	if len(body.Floors) == 0 {
		return Body{}, nil, ErrNoFaces
	}
	return body, b.missing(&body), nil
}

// level is a height at which faces look up or down.
type level struct {
	name string
	z    float64
	up   bool
	area float64
	u    float64 // standard uncertainty of z
}

// end of a wall: a contour at a height, and the level it meets.
type end struct {
	z       float64
	contour Contour
	level   int // noLevel, or atCone where a cone goes on from here
}

const (
	noLevel = -1
	atCone  = -2
)

type seenWall struct {
	name      string
	low, high end
	internal  bool
	u         float64                 // standard uncertainty of its radius or offset
	arc       float64                 // degrees seen
	at        func(z float64) Contour // of a cone: its contour at a height
}

type builder struct {
	rep    *report.Report
	levels []level
	walls  []seenWall
	used   map[string]bool // faces that are in the body
	far    bool            // the last level was not seen
	// stoodOn is the face that the part stood on, if the far side is taken to lie there.
	stoodOn string
	given   bool // a thickness was given
}

// standard is the standard uncertainty of where a face stands, from the expanded one, k = 2,
// and its form, whose mean may lie anywhere in it: rectangular.
func standard(expanded float64, form *float64) float64 {
	if form == nil {
		return expanded / 2
	}
	return math.Hypot(expanded/2, *form/math.Sqrt(12))
}

// findLevels groups the faces perpendicular to the axis by height, weighed by area.
func (b *builder) findLevels() {
	for _, p := range b.rep.Planes {
		if math.Hypot(p.Normal[0], p.Normal[1]) > maxTilt {
			continue
		}
		b.used[p.ID] = true
		up, area := p.Normal[2] > 0, max(p.Area, math.SmallestNonzeroFloat64)
		i := slices.IndexFunc(b.levels, func(l level) bool {
			return l.up == up && math.Abs(l.z-p.Point[2]) < levelGap
		})
		if i < 0 {
			b.levels = append(b.levels, level{p.ID, p.Point[2], up, area, standard(p.Uncertainty.Offset, p.Flatness)})
			continue
		}
		l := &b.levels[i]
		l.u = max(l.u, standard(p.Uncertainty.Offset, p.Flatness))
		l.z = (l.z*l.area + p.Point[2]*area) / (l.area + area)
		l.area += area
	}
}

// findWalls collects the walls along the axis; that of a hole has the hole's own figures.
func (b *builder) findWalls() {
	add := func(name string, contour Contour, z0, z1, u float64, internal bool, arc float64) {
		b.used[name] = true
		b.walls = append(b.walls, seenWall{name: name, internal: internal, u: u, arc: arc,
			low: end{z0, contour, noLevel}, high: end{z1, contour, noLevel}})
	}
	holes := func(list []report.Hole, internal bool) {
		for _, h := range list {
			centre := r2.Point{X: h.Centre[0], Y: h.Centre[1]}
			contour := Circle(centre, h.Diameter/2)
			if h.Direction != nil && h.Length > h.Width {
				along := r2.Point{X: h.Direction[0], Y: h.Direction[1]}.Normalize()
				along = along.Mul((h.Length - h.Width) / 2)
				contour = Stadium(centre.Sub(along), centre.Add(along), h.Width/2)
			}
			z0, z1, arc := math.Inf(1), math.Inf(-1), h.ArcDeg
			for _, id := range append([]string{h.Wall}, h.EndWalls...) {
				if c := b.rep.Cylinder(id); c != nil {
					from, to := c.Ends()
					z0, z1 = min(z0, from.Z, to.Z), max(z1, from.Z, to.Z)
					b.used[id] = true
					arc = max(arc, c.ArcDeg)
				}
			}
			if z0 > z1 { // a hole that only its rim shows is where its face is
				z0, z1 = h.Centre[2], h.Centre[2]
			}
			of := h.Uncertainty
			add(h.ID, contour, z0, z1, standard(max(of.Diameter, of.Width, of.Length)/2, nil), internal, arc)
		}
	}
	holes(b.rep.Holes, true)
	holes(b.rep.Studs, false)
	for _, c := range b.rep.Cylinders {
		if b.used[c.ID] || math.Hypot(c.Axis[0], c.Axis[1]) > maxTilt {
			continue
		}
		circle := Circle(r2.Point{X: c.Point[0], Y: c.Point[1]}, c.Diameter/2)
		from, to := c.Ends()
		add(c.ID, circle, min(from.Z, to.Z), max(from.Z, to.Z),
			standard(c.Uncertainty.Diameter/2, c.Cylindricity), c.Side == report.Internal, c.ArcDeg)
	}
}

// outline makes one wall of the flat sides where they are the sides of a convex polygon that
// each of them touches.
func (b *builder) outline(thickness float64) {
	type line struct {
		id     string
		normal r2.Point
		foot   r2.Point
		angle  float64
		u      float64
	}
	var sides []line
	for _, p := range b.rep.Planes {
		if math.Abs(p.Normal[2]) <= maxTilt {
			n := r2.Point{X: p.Normal[0], Y: p.Normal[1]}.Normalize()
			foot := r2.Point{X: p.Point[0], Y: p.Point[1]}
			sides = append(sides, line{p.ID, n, foot, math.Atan2(n.Y, n.X),
				standard(p.Uncertainty.Offset, p.Flatness)})
		}
	}
	if len(sides) < 3 || len(b.levels) == 0 || len(b.levels) < 2 && thickness == 0 {
		return
	}
	slices.SortFunc(sides, func(a, b line) int { return cmp.Compare(a.angle, b.angle) })
	var corners []r2.Point
	for i, s := range sides {
		next := sides[(i+1)%len(sides)]
		// x·n = foot·n on both lines, by Cramer's rule; the normals turn left by less than 180.
		d := s.normal.Cross(next.normal)
		if d <= maxTilt {
			return
		}
		u, v := s.foot.Dot(s.normal), next.foot.Dot(next.normal)
		corners = append(corners, s.normal.Mul(v).Sub(next.normal.Mul(u)).Ortho().Mul(1/d))
	}
	for _, s := range sides {
		for _, o := range sides {
			if s.foot.Sub(o.foot).Dot(o.normal) > levelGap {
				return
			}
		}
	}
	byHeight := func(a, b level) int { return cmp.Compare(a.z, b.z) }
	low, high := slices.MinFunc(b.levels, byHeight).z, slices.MaxFunc(b.levels, byHeight).z
	if len(b.levels) == 1 {
		low = -thickness
	}
	var names []string
	u := 0.0
	for _, s := range sides {
		b.used[s.id] = true
		names = append(names, s.id)
		u = max(u, s.u)
	}
	c := Polygon(corners...)
	b.walls = append(b.walls, seenWall{name: strings.Join(names, " "), arc: 360, u: u,
		low: end{low, c, noLevel}, high: end{high, c, noLevel}})
}

// cut cuts the part off at a flat side that crosses its round outline, where that was not seen
// beyond. Holes that the side crosses become part of the outline.
func (b *builder) cut() {
	for _, p := range b.rep.Planes {
		if b.used[p.ID] || math.Abs(p.Normal[2]) > maxTilt {
			continue
		}
		n := r2.Point{X: p.Normal[0], Y: p.Normal[1]}.Normalize()
		foot := r2.Point{X: p.Point[0], Y: p.Point[1]}
		along := n.Ortho() // the material is to the left of it
		at := func(s float64) r2.Point { return foot.Add(along.Mul(s)) }
		type chord struct {
			wall     int
			from, to float64
		}
		var crossed []chord
		var outer *seenWall
		fits := true
		for i := range b.walls {
			w := &b.walls[i]
			for _, s := range w.low.contour {
				c := s.Centre.Sub(foot)
				if s.Radius == 0 || c.Dot(n) <= -math.Abs(s.Radius) {
					continue
				}
				half := math.Sqrt(s.Radius*s.Radius - c.Dot(n)*c.Dot(n)) // NaN: all of it is beyond
				crossed = append(crossed, chord{i, c.Dot(along) - half, c.Dot(along) + half})
				left := 360 - 2*math.Acos(-c.Dot(n)/s.Radius)*180/math.Pi
				fits = fits && half > 0 && len(w.low.contour) == 1 && w.at == nil &&
					(w.internal || outer == nil && w.arc < left+overCut)
				if !w.internal {
					outer = w
				}
			}
		}
		if outer == nil || !fits {
			continue
		}
		slices.SortFunc(crossed, func(a, b chord) int { return cmp.Compare(a.from, b.from) })
		round := outer.low.contour[0]
		c := Contour{{Start: at(crossed[0].from)}}
		names := []string{outer.name, p.ID}
		for k, h := range crossed[1:] {
			w := &b.walls[h.wall]
			fits = fits && w.internal && w.low.level == outer.low.level && w.high.level == outer.high.level &&
				h.to < crossed[0].to && (k == 0 || crossed[k].to < h.from)
			hole := w.low.contour[0]
			c = append(c, Segment{Start: at(h.from), Centre: hole.Centre, Radius: -hole.Radius},
				Segment{Start: at(h.to)})
			names = append(names, w.name)
		}
		if !fits || b.walls[crossed[0].wall].internal {
			continue
		}
		c = append(c, Segment{Start: at(crossed[0].to), Centre: round.Centre, Radius: round.Radius})
		outer.name, outer.arc = strings.Join(names, " "), 360
		outer.low.contour, outer.high.contour = c, c
		b.used[p.ID] = true
		b.walls = slices.DeleteFunc(b.walls, func(w seenWall) bool {
			return w.internal && slices.Contains(names, w.name)
		})
	}
}

// cones adds the cones. A chamfer or countersink shares an edge with the wall near whose end
// it reaches that wall's radius, and has the wall's centre; any other is a wall by itself.
func (b *builder) cones() {
	for _, k := range b.rep.Cones {
		if math.Hypot(k.Axis[0], k.Axis[1]) > maxTilt {
			continue
		}
		slope := math.Tan(k.HalfAngleDeg * math.Pi / 180)
		opens := math.Copysign(1, k.Axis[2])
		middle := r2.Point{X: k.Point[0], Y: k.Point[1]}
		cone := seenWall{name: k.ID, internal: k.Side == report.Internal, arc: k.ArcDeg,
			low:  end{z: k.Point[2] - k.Length/2, level: noLevel},
			high: end{z: k.Point[2] + k.Length/2, level: noLevel},
			at:   func(z float64) Contour { return Circle(middle, math.Abs(z-k.Apex[2])*slope) }}
		for i := range b.walls {
			w := &b.walls[i]
			if len(w.low.contour) != 1 || w.internal != cone.internal || w.at != nil {
				continue
			}
			circle := w.low.contour[0]
			z := k.Apex[2] + opens*circle.Radius/slope
			axis := r2.Point{X: k.Apex[0], Y: k.Apex[1]}.Add(
				r2.Point{X: k.Axis[0], Y: k.Axis[1]}.Mul((z - k.Apex[2]) / k.Axis[2]))
			// A countersink widens from its hole on, a chamfer narrows from the side on.
			upper := (opens > 0) == w.internal
			e, shared := &w.low, &cone.high
			if upper {
				e, shared = &w.high, &cone.low
			}
			off := axis.Sub(circle.Centre).Norm()
			if off > coneOff*circle.Radius || math.Abs(e.z-z) > max(minEndGap, k.Length) ||
				e.level == atCone {
				continue
			}
			middle, cone.u = circle.Centre, w.u
			*shared = end{z, w.low.contour, atCone}
			e.z, e.level = z, atCone
			break
		}
		b.walls = append(b.walls, cone)
		b.used[k.ID] = true
	}
}

// nearest is the level nearest to z within the gap, or noLevel.
func (b *builder) nearest(z, gap float64) int {
	best := noLevel
	for i, l := range b.levels {
		if d := math.Abs(l.z - z); d <= gap {
			best, gap = i, d
		}
	}
	return best
}

// join ends the walls at the levels, those that go through at the far side.
func (b *builder) join() {
	for i := range b.walls {
		w := &b.walls[i]
		gap := max(minEndGap, endGap*(w.high.z-w.low.z))
		for _, e := range []*end{&w.low, &w.high} {
			if e.level != noLevel {
				continue
			}
			e.level = b.nearest(e.z, gap)
			if e.level == noLevel && b.far && e == &w.low && e.z < 0 {
				e.level = len(b.levels) - 1
			}
			if e.level != noLevel {
				e.z = b.levels[e.level].z
			}
			if w.at != nil {
				e.contour = w.at(e.z)
			}
		}
	}
}

// ground finds what the part stood on: a face that looks up, below everything, on which an
// outside wall ends. The part's far side is taken to lie there.
func (b *builder) ground() {
	for i := range b.levels {
		l := &b.levels[i]
		stands, below := false, false
		for _, w := range b.walls {
			stands = stands || !w.internal && w.low.level == i
			below = below || w.low.z < l.z
		}
		if l.up && stands && !below {
			b.stoodOn, l.name, l.up = l.name, "far side", false
		}
	}
}

// joined are the walls as faces; one whose both ends meet the same level, seen by its rim
// alone, has none.
func (b *builder) joined() []Wall {
	var out []Wall
	for _, w := range b.walls {
		if w.low.z < w.high.z {
			out = append(out, Wall{Name: w.name, Z0: w.low.z, Z1: w.high.z, Low: w.low.contour,
				High: w.high.contour, Internal: w.internal, U: w.u})
		}
	}
	return out
}

// floors are the faces of all levels. At a face that looks up, a wall of material that
// comes from below bounds it outside, and so does the wall of a recess whose floor it is; a
// hole that opens here, or a boss that stands on it, bounds it inside.
func (b *builder) floors() []Floor {
	var out []Floor
	for i, l := range b.levels {
		var outer, inner []Contour
		for _, w := range b.walls {
			for _, e := range []end{w.low, w.high} {
				if e.level != i {
					continue
				}
				flat, top := !(w.low.z < w.high.z), e.z == w.high.z
				if !flat && (top == l.up) != w.internal {
					outer = append(outer, e.contour)
				} else {
					inner = append(inner, e.contour)
				}
				if flat {
					break
				}
			}
		}
		slices.SortStableFunc(outer, func(a, b Contour) int { return cmp.Compare(a.Area(), b.Area()) })
		first := len(out)
		for _, c := range outer {
			out = append(out, Floor{Name: l.name, Z: l.z, U: l.u, Up: l.up, Outer: c})
		}
		for _, c := range inner {
			for j := first; j < len(out); j++ {
				if out[j].Outer.contains(c[0].Start) {
					out[j].Inner = append(out[j].Inner, c)
					break
				}
			}
		}
	}
	return out
}

// contains reports whether p is inside the contour.
func (c Contour) contains(p r2.Point) bool {
	// The winding number: the sum of the angles under which p sees the sides.
	const chord = 0.01
	sum, ring := 0.0, c.polygon(chord)
	for i := range ring {
		a, z := ring[i].Sub(p), after(ring, i).Sub(p)
		sum += math.Atan2(a.Cross(z), a.Dot(z))
	}
	return math.Abs(sum) > math.Pi
}

// point is the point at the share t along segment i.
func (c Contour) point(i int, t float64) r2.Point {
	s := c[i]
	if s.Radius == 0 {
		return s.Start.Add(c.end(i).Sub(s.Start).Mul(t))
	}
	sin, cos := math.Sincos(c.turn(i) * t)
	d := s.Start.Sub(s.Centre)
	return s.Centre.Add(r2.Point{X: d.X*cos - d.Y*sin, Y: d.X*sin + d.Y*cos})
}

// missing says what the body lacks.
func (b *builder) missing(body *Body) []string {
	var out []string
	say := func(format, list string) {
		if list != "" {
			out = append(out, fmt.Sprintf(format, list))
		}
	}
	say("These faces end at nothing that was scanned, so this is a shell and no solid: %s.",
		strings.Join(body.Open(), ", "))
	if b.far {
		out = append(out, "The far side was not scanned; it stands where the thickness that was "+
			"given puts it.")
	}
	given := ""
	if b.given {
		given = ", and not where the thickness that was given puts it"
	}
	say("The far side was not scanned; it is taken to lie on %s, which the part seems to stand on"+
		given+".", b.stoodOn)
	var part, left []string
	for _, w := range b.walls {
		if w.arc > 0 && w.arc < 345 {
			part = append(part, fmt.Sprintf("%s over %.0f", w.name, w.arc))
		}
	}
	say("Drawn whole, but seen in part: %s degrees.", strings.Join(part, ", "))
	for _, p := range b.rep.Planes {
		left = append(left, p.ID)
	}
	for _, c := range b.rep.Cylinders {
		left = append(left, c.ID)
	}
	for _, c := range b.rep.Cones {
		left = append(left, c.ID)
	}
	for _, s := range b.rep.Spheres {
		left = append(left, s.ID)
	}
	left = slices.DeleteFunc(left, func(id string) bool { return b.used[id] })
	say("Left out with what they bound, as ribs, pockets and rounded edges, since they are neither "+
		"parallel nor perpendicular to the part's axis or close no outline: %s.",
		strings.Join(left, ", "))
	if len(body.Open()) == 0 {
		const mm3 = 1000 // in a cm³
		v, u := body.Volume()
		less := ""
		if len(left) > 0 {
			less = ", without what was left out"
		}
		d := wording.Decimals(2 * u / mm3)
		out = append(out, fmt.Sprintf("The solid's volume is %s%s cm3%s; +- is k = 2, from its planes and "+
			"cylinders, without rounded edges.", wording.Fixed(v/mm3, d), wording.PlusMinus(2*u/mm3, d), less))
	}
	return out
}
