package forecast

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r2"
	"github.com/golang/geo/r3"

	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/plan"
	"spotface/report/wording"
)

// role of a round feature on the mounting face.
type role uint8

const (
	hole role = iota // of a circle, or a single one
	bore
	boss
	pad // a level plane of its own
)

// round is a round feature of the simulated part, seen along Z in the datum frame.
type round struct {
	id      string
	role    role
	x, y, r float64
	depth   float64 // of a counterbore or a sunk pad; 0: through
	height  float64 // of a boss or a raised pad, over the mounting face
}

func (a round) distance(b round) float64 { return math.Hypot(a.x-b.x, a.y-b.y) }

func (a round) gap(b round) float64 { return a.distance(b) - a.r - b.r }

func (a round) coaxial(b round) bool { return a.distance(b) < 1e-6 }

// layout is where everything on the simulated part goes. Its frame is the plan's
// datum frame: origin on the axis, Z out of the mounting face in z = 0, X through
// the clocking hole.
type layout struct {
	plan   *plan.Plan // a copy of what was asked, less what is left out
	margin float64    // of the face about a hole, mm
	on     []round    // what is on the mounting face
	cuts   []scansim.CutSpec
	outer  string // the boss that the face lies on; empty: a disc of its own
	disc   round  // the mounting face's outline
	thick  float64

	assumed, leftOut []string
	gone             map[string]bool // ids of what is left out
}

func (l *layout) assume(format string, args ...any) {
	l.assumed = append(l.assumed, fmt.Sprintf(format, args...))
}

// leave leaves a feature out, with why.
func (l *layout) leave(id, format string, args ...any) {
	l.gone[id] = true
	l.leftOut = append(l.leftOut, id+": "+fmt.Sprintf(format, args...))
}

func (l *layout) fail(format string, args ...any) error {
	return &plan.Error{File: l.plan.File, Message: fmt.Sprintf(format, args...)}
}

// lacks is the error of a size without which there is no part to simulate.
func (l *layout) lacks(feature, key, example string) error {
	return l.fail("%s has no %s, which a forecast needs to build the part: add it, as in %q",
		feature, key, example)
}

// only returns what has the role.
func (l *layout) only(is role) []round {
	return slices.DeleteFunc(slices.Clone(l.on), func(f round) bool { return f.role != is })
}

// layOut places the plan's features. depth is the thickness of the part, mm; 0
// means that of its smallest hole. spacing is the scan's.
func layOut(p *plan.Plan, depth, spacing float64) (*layout, error) {
	copied := *p
	l := &layout{plan: &copied, gone: map[string]bool{}}
	if err := l.placeHoles(); err != nil {
		return nil, err
	}
	smallest, largest := math.Inf(1), 0.0
	for _, h := range l.on {
		smallest, largest = min(smallest, 2*h.r), max(largest, 2*h.r)
	}
	// A face needs some spacings about a hole to be seen as one.
	l.margin = max(largest, marginSpacings*spacing, leastMargin)
	switch {
	case depth > 0:
		l.thick = depth
		l.assume("The part is %s mm thick, as asked; holes and bores go through.", wording.Short(depth))
	case len(l.on) > 0:
		l.thick = smallest
		l.assume("The part is %s mm thick, as much as its smallest hole is wide; holes and bores go through.",
			wording.Short(smallest))
	default:
		l.thick = max(thickSpacings*spacing, leastThick)
		l.assume("The part is %s mm thick; bores go through.", wording.Short(l.thick))
	}
	if err := l.placeCylinders(); err != nil {
		return nil, err
	}
	l.placeStrays()
	l.placePlanes()
	if err := l.checkClear(); err != nil {
		return nil, err
	}
	if l.outer == "" {
		l.assume("The mounting face is a disc of %s mm, just large enough.",
			wording.Short(math.Round(20*l.disc.r)/10))
	}
	l.takeOff()
	return l, nil
}

// mainCircle is the number of the circle that clocks the frame: the first of those with
// most holes, as in a check; -1 where there is none.
func mainCircle(p *plan.Plan) int {
	best := -1
	for i, c := range p.BoltCircles {
		if best < 0 || len(c.Angles) > len(p.BoltCircles[best].Angles) {
			best = i
		}
	}
	return best
}

// placeHoles lays the holes of the bolt circles, the main one first, and the single
// holes that have a place.
func (l *layout) placeHoles() error {
	main, circles := mainCircle(l.plan), len(l.plan.BoltCircles)
	for k := range circles {
		c := &l.plan.BoltCircles[(main+k)%circles]
		switch {
		case c.PitchDiameter == nil:
			return l.lacks("bolt circle "+c.ID, "pitch_diameter", "pitch_diameter: {nominal: 84}")
		case c.HoleDiameter == nil:
			return l.lacks("bolt circle "+c.ID, "hole_diameter", "hole_diameter: {nominal: 6.6}")
		case !(c.HoleDiameter.Nominal < c.PitchDiameter.Nominal):
			return l.fail("bolt circle %s has holes of %s mm on %s mm: they leave no face between them",
				c.ID, wording.Short(c.HoleDiameter.Nominal), wording.Short(c.PitchDiameter.Nominal))
		}
		clocks := func(h plan.Hole) bool { return h.ID == l.plan.Frame.Clock && h.ID != "" }
		if k > 0 || slices.ContainsFunc(l.plan.Holes, clocks) {
			l.on = append(l.on, l.freeRing(c)...)
			continue
		}
		// The first hole lies on the frame's X: y + r sin(start) = 0.
		_, y := centre(c)
		l.on = append(l.on, ringOf(c, math.Asin(max(-1, min(1, -2*y/c.PitchDiameter.Nominal))))...)
	}
	for _, h := range l.plan.Holes {
		if h.Diameter == nil {
			return l.lacks("hole "+h.ID, "diameter", "diameter: {nominal: 12}")
		}
		if h.At != nil {
			l.on = append(l.on, round{id: h.ID, x: h.At[0], y: h.At[1], r: h.Diameter.Nominal / 2})
		}
	}
	return nil
}

// centre of a planned circle in the datum frame.
func centre(c *plan.Circle) (x, y float64) {
	if c.At == nil {
		return 0, 0
	}
	return c.At[0], c.At[1]
}

// ringOf returns the holes of c, its angle 0 at start, radians from X.
func ringOf(c *plan.Circle, start float64) []round {
	x, y := centre(c)
	out := make([]round, 0, len(c.Angles))
	for k, a := range c.Angles {
		sin, cos := math.Sincos(start + a*math.Pi/180)
		r := c.PitchDiameter.Nominal / 2
		out = append(out, round{id: fmt.Sprintf("%s/%d", c.ID, k+1),
			x: x + r*cos, y: y + r*sin, r: c.HoleDiameter.Nominal / 2})
	}
	return out
}

// freeRing turns a circle whose place the plan leaves open until its holes lie
// clear of the others; the first turn that leaves half a hole, or else the clearest.
func (l *layout) freeRing(c *plan.Circle) []round {
	others := slices.Clone(l.on)
	for _, h := range l.plan.Holes {
		if h.At != nil && h.Diameter != nil {
			others = append(others, round{x: h.At[0], y: h.At[1], r: h.Diameter.Nominal / 2})
		}
	}
	best, clear := ringOf(c, 0), 0.0
	for k := range turns {
		ring, room := ringOf(c, float64(k)*2*math.Pi/float64(len(c.Angles))/turns), math.Inf(1)
		for _, h := range ring {
			for _, o := range others {
				room = min(room, h.gap(o))
			}
		}
		if room > clear+1e-9 && clear <= c.HoleDiameter.Nominal/2 {
			best, clear = ring, room
		}
	}
	return best
}

// placeCylinders lays bores and bosses, and the face's outline. A boss about the whole
// pattern is the part's outer wall, the smallest of several; what the simple part cannot
// carry is left out and said.
func (l *layout) placeCylinders() error {
	holes := l.only(hole)
	var around []round
	for _, c := range l.plan.Cylinders {
		if c.Diameter == nil {
			return l.lacks("cylinder "+c.ID, "diameter", "diameter: {nominal: 40}")
		}
		f := round{id: c.ID, role: bore, r: c.Diameter.Nominal / 2}
		clash := "a bore of %s mm there would cut into the holes."
		if c.At != nil && c.ID != l.plan.Frame.Axis {
			f.x, f.y = c.At[0], c.At[1]
		}
		switch c.Side {
		case report.Internal:
		case "":
			l.assume("Cylinder %s is taken for a bore, as the plan does not say its side.", c.ID)
		default:
			f.role, f.height = boss, l.thick/2
			clash = "a boss of %s mm there would run into the holes."
		}
		outside := func(h round) bool { return f.distance(h)+h.r >= f.r }
		switch {
		case f.role == boss && len(holes) > 0 && !slices.ContainsFunc(holes, outside):
			around = append(around, f)
		case slices.ContainsFunc(holes, func(h round) bool { return f.gap(h) <= 0 }):
			l.leave(c.ID, clash, wording.Short(2*f.r))
		default:
			l.on = append(l.on, f)
		}
	}
	bores := l.only(bore)
	l.on = slices.DeleteFunc(l.on, func(f round) bool {
		for _, b := range bores {
			if f.role == boss && f.gap(b) < 0 && !(f.r > b.r && f.coaxial(b)) {
				l.leave(f.id, "bore %s would cut it away.", b.id)
				return true
			}
		}
		return false
	})
	l.stepBores(bores)
	if len(around) > 0 {
		l.disc = slices.MinFunc(around, func(a, b round) int { return cmp.Compare(a.r, b.r) })
		l.outer = l.disc.id
		l.assume("%s is the outer wall of the part.", l.outer)
		for _, f := range around {
			if f.id != l.outer {
				l.leave(f.id, "one boss about the whole pattern is simulated, and that is %s.", l.outer)
			}
		}
		return nil
	}
	l.sizeDisc()
	return nil
}

// stepBores makes counterbores of all bores on one axis but the smallest.
func (l *layout) stepBores(bores []round) {
	for i := range l.on {
		b, smaller := &l.on[i], 0
		for _, o := range bores {
			if b.role == bore && o.r < b.r && b.coaxial(o) {
				smaller++
			}
		}
		if smaller > 0 {
			b.depth = l.thick / float64(smaller+1)
			l.assume("Bore %s is a counterbore %s mm deep.", b.id, wording.Short(b.depth))
		}
	}
}

// sizeDisc makes the face just large enough for what is on it.
func (l *layout) sizeDisc() {
	if len(l.on) == 0 {
		l.disc.r = 3 * l.margin
		return
	}
	box := r2.EmptyRect()
	for _, f := range l.on {
		box = box.Union(r2.RectFromCenterSize(r2.Point{X: f.x, Y: f.y}, r2.Point{X: 2 * f.r, Y: 2 * f.r}))
	}
	l.disc.x, l.disc.y = box.Center().X, box.Center().Y
	for _, f := range l.on {
		l.disc.r = max(l.disc.r, l.disc.distance(f)+f.r+l.margin)
	}
}

// placeStrays puts single holes without a place beside the rest, one after the
// other, toward -X.
func (l *layout) placeStrays() {
	for _, h := range l.plan.Holes {
		if h.At != nil {
			continue
		}
		r := h.Diameter.Nominal / 2
		left := l.disc.x - l.disc.r
		x := left + r + l.margin/2
		if l.outer == "" {
			// Clear of what is there, which ends a margin inside, and the face
			// grown about it.
			x = left + l.margin/2 - r
			grow := (left - (x - r - l.margin)) / 2
			l.disc.x, l.disc.r = l.disc.x-grow, l.disc.r+grow
		}
		l.on = append(l.on, round{id: h.ID, x: x, y: l.disc.y, r: r})
		l.assume("Hole %s has no place (at) in the plan; it is put at (%s, %s).",
			h.ID, wording.Short(x), wording.Short(l.disc.y))
	}
}

// placePlanes lays the faces. The mounting face is there anyway; of the others
// those that the simple part can carry.
func (l *layout) placePlanes() {
	face := l.plan.Frame.Face
	if face == "" && len(l.plan.Planes) > 0 && l.plan.Planes[0].At == nil {
		face = l.plan.Planes[0].ID // as in a check
	}
	for i := range l.plan.Planes {
		p := &l.plan.Planes[i]
		if p.ID == face {
			continue
		}
		if why := l.placePlane(p); why != "" {
			l.leave(p.ID, "%s", why)
		}
	}
}

// placePlane returns why a plane cannot be carried, "" where it is placed.
func (l *layout) placePlane(p *plan.Plane) string {
	if p.At == nil {
		return "the plan does not say where it lies (at)."
	}
	at := r3.Vector{X: p.At[0], Y: p.At[1], Z: p.At[2]}
	n := r3.Vector{Z: 1}
	if p.Normal != nil {
		n = r3.Vector{X: p.Normal[0], Y: p.Normal[1], Z: p.Normal[2]}
	}
	switch {
	case n.Z > upright && math.Abs(at.Z) < flush:
		return "" // the mounting face, or in one plane with it
	case n.Z > upright:
		return l.placeLevel(p.ID, at)
	case n.Z < away:
		return "it faces away from a scanner above the mounting face."
	}
	for _, f := range l.on {
		if (r3.Vector{X: f.x, Y: f.y}).Sub(at).Dot(n)+f.r > -l.margin/4 {
			return "it would cut into " + f.id + "."
		}
	}
	// The disc must reach well beyond the plane for a piece of it to show.
	reach := at.Sub(r3.Vector{X: l.disc.x, Y: l.disc.y}).Dot(n) / math.Hypot(n.X, n.Y)
	switch {
	case reach <= 0:
		return "it would cut away the middle of the face."
	case l.outer == "":
		l.disc.r = max(l.disc.r, math.Hypot(reach, max(reach/2, l.margin)))
	case reach > 0.95*l.disc.r:
		return "it lies beyond " + l.outer + "."
	}
	l.cuts = append(l.cuts, scansim.CutSpec{Point: at, Normal: n})
	return ""
}

// placeLevel lays a plane parallel to the mounting face: the top of a boss, or a
// round pad of its own, raised or sunk.
func (l *layout) placeLevel(id string, at r3.Vector) string {
	f := round{id: id, role: pad, x: at.X, y: at.Y, r: l.margin,
		depth: max(0, -at.Z), height: max(0, at.Z)}
	if f.depth > l.thick-1 {
		return "the part is too thin to hold it; a thicker part would do."
	}
	for i, b := range l.on {
		if b.role == boss && f.height > 0 && b.distance(f) < b.r {
			l.on[i].height = f.height
			return ""
		}
	}
	for _, o := range l.on {
		if f.gap(o) < l.margin/4 {
			return "it lies where " + o.id + " is."
		}
	}
	if room := l.disc.distance(f) + f.r + l.margin/4; room > l.disc.r {
		if l.outer != "" {
			return "it lies beyond " + l.outer + "."
		}
		l.disc.r = room
	}
	l.on = append(l.on, f)
	l.assume("Plane %s is a round pad of %s mm.", id, wording.Short(2*f.r))
	return ""
}

// checkClear refuses holes, bores and bosses that run into each other or off the
// face: such a plan is of no one part.
func (l *layout) checkClear() error {
	for i, a := range l.on {
		for _, b := range l.on[:i] {
			if a.gap(b) <= 0 && (!a.coaxial(b) || a.role == hole || b.role == hole) {
				return l.fail("%s and %s run into each other, so there is no such part to simulate: mend their places or sizes",
					b.id, a.id)
			}
		}
		if l.disc.distance(a)+a.r > l.disc.r {
			return l.fail("%s lies beyond %s, so there is no such part to simulate: mend their places or sizes",
				a.id, l.outer)
		}
	}
	return nil
}

// takeOff takes what is left out off the plan.
func (l *layout) takeOff() {
	l.plan.Planes = slices.DeleteFunc(slices.Clone(l.plan.Planes),
		func(p plan.Plane) bool { return l.gone[p.ID] })
	l.plan.Cylinders = slices.DeleteFunc(slices.Clone(l.plan.Cylinders),
		func(c plan.Cylinder) bool { return l.gone[c.ID] })
	for i := range l.plan.Cylinders {
		c := &l.plan.Cylinders[i]
		if !l.gone[c.PerpendicularTo] {
			continue
		}
		if c.Perpendicularity > 0 {
			l.leave(c.ID+" perpendicularity", "its plane %s is left out.", c.PerpendicularTo)
		}
		c.PerpendicularTo, c.Perpendicularity = "", 0
	}
}

// part builds what the layout describes: a flange about the face's middle.
func (l *layout) part() *scansim.Part {
	var e scansim.Extras
	for _, f := range l.on {
		x, y := f.x-l.disc.x, f.y-l.disc.y
		if f.height > 0 {
			e.Bosses = append(e.Bosses, scansim.BossSpec{X: x, Y: y, Diameter: 2 * f.r, Height: f.height})
		} else {
			e.Holes = append(e.Holes, scansim.HoleSpec{X: x, Y: y, Diameter: 2 * f.r, Depth: f.depth})
		}
	}
	for _, c := range l.cuts {
		c.Point = c.Point.Sub(r3.Vector{X: l.disc.x, Y: l.disc.y})
		e.Cuts = append(e.Cuts, c)
	}
	return scansim.Flange(scansim.FlangeSpec{Name: l.plan.Part, Diameter: 2 * l.disc.r,
		Thickness: l.thick, Holes: -1, Extras: e})
}

// area is that of the surface that a scanner above the part sees, mm², roughly.
func (l *layout) area() float64 {
	a := math.Pi * l.disc.r * (l.disc.r + 2*l.thick)
	for _, f := range l.on {
		a += 2 * math.Pi * f.r * f.height
		if f.height == 0 {
			a += math.Pi * f.r * (2*l.thick - f.r)
		}
	}
	return a
}
