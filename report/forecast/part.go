package forecast

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r2"

	"spotface/mesh/scansim"
	"spotface/report"
	"spotface/report/plan"
	"spotface/report/wording"
)

// round is a hole or bore of the simulated part, seen along Z in the datum frame.
type round struct {
	id      string
	bore    bool
	x, y, r float64
}

func (a round) distance(b round) float64 { return math.Hypot(a.x-b.x, a.y-b.y) }

func (a round) gap(b round) float64 { return a.distance(b) - a.r - b.r }

// layout is where everything on the simulated part goes. Its frame is the plan's
// datum frame: origin on the axis, Z out of the mounting face in z = 0, X through
// the clocking hole.
type layout struct {
	plan  *plan.Plan // a copy of what was asked, less what is left out
	on    []round    // what is on the mounting face, all of it through
	outer string     // the boss that the face lies on; empty: a disc of its own
	disc  round      // the mounting face's outline
	thick float64

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

// layOut places the plan's features on the simplest part that carries its holes: a disc with
// holes and bores through it. depth is the thickness of the part, mm; 0 means that of its
// smallest hole. spacing is the scan's.
func layOut(p *plan.Plan, depth, spacing float64) (*layout, error) {
	l := &layout{plan: p.Clone(), gone: map[string]bool{}}
	if err := l.placeHoles(); err != nil {
		return nil, err
	}
	smallest, largest := math.Inf(1), 0.0
	for _, h := range l.on {
		smallest, largest = min(smallest, 2*h.r), max(largest, 2*h.r)
	}
	switch {
	case depth > 0:
		l.thick = depth
		l.assume("The part is %s mm thick, as asked; holes and bores go through.", wording.Short(depth))
	case len(l.on) > 0:
		l.thick = smallest
		l.assume("The part is %s mm thick, as much as its smallest hole is wide; holes and bores "+
			"go through.", wording.Short(smallest))
	default:
		l.thick = max(thickSpacings*spacing, leastThick)
		l.assume("The part is %s mm thick; bores go through.", wording.Short(l.thick))
	}
	if err := l.placeCylinders(); err != nil {
		return nil, err
	}
	if l.outer == "" {
		// A face needs some spacings about a hole to be seen as one.
		l.sizeDisc(max(largest, marginSpacings*spacing, leastMargin))
		l.assume("The mounting face is a disc of %s mm, just large enough.",
			wording.Short(math.Round(20*l.disc.r)/10))
	}
	face := cmp.Or(l.plan.Frame.Face, "P1")
	if planes := l.plan.Planes; l.plan.Frame.Face == "" && len(planes) > 0 {
		face = planes[0].ID // as in a check
	}
	for _, f := range l.plan.Planes {
		if f.ID != face {
			l.leave(f.ID, "only the mounting face is simulated.")
		}
	}
	if err := l.checkClear(); err != nil {
		return nil, err
	}
	l.takeOff()
	return l, nil
}

// placeHoles lays the holes of the bolt circles, and the single holes that have a place. The
// main circle has its first hole on the frame's X; others are turned until they are clear of
// what is there.
func (l *layout) placeHoles() error {
	for _, h := range l.plan.Holes {
		switch {
		case h.Diameter == nil:
			return l.lacks("hole "+h.ID, "diameter", "diameter: {nominal: 12}")
		case h.At == nil:
			l.leave(h.ID, "it has no place (at) in the plan.")
		default:
			l.on = append(l.on, round{id: h.ID, x: h.At[0], y: h.At[1], r: h.Diameter.Nominal / 2})
		}
	}
	main, circles := l.plan.MainCircle(nil), len(l.plan.BoltCircles)
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
		turn := 0.0
		clocks := func(h plan.Hole) bool { return h.ID == l.plan.Frame.Clock && h.ID != "" }
		if k > 0 || slices.ContainsFunc(l.plan.Holes, clocks) {
			for i := 0; i < turns && !l.clear(c, turn); i++ {
				turn = float64(i+1) * 2 * math.Pi / float64(len(c.Angles)) / turns
			}
		} else if c.At != nil { // y + r sin(turn) = 0
			turn = math.Asin(max(-1, min(1, -2*c.At[1]/c.PitchDiameter.Nominal)))
		}
		l.on = append(l.on, ringOf(c, turn)...)
	}
	return nil
}

// ringOf returns the holes of c, its angle 0 at start, radians from X.
func ringOf(c *plan.Circle, start float64) (out []round) {
	var x, y float64
	if c.At != nil {
		x, y = c.At[0], c.At[1]
	}
	for k, at := range c.Places(c.PitchDiameter.Nominal/2, start) {
		out = append(out, round{id: fmt.Sprintf("%s/%d", c.ID, k+1), x: x + at[0], y: y + at[1],
			r: c.HoleDiameter.Nominal / 2})
	}
	return out
}

// clear reports whether a turned circle leaves half a hole to what is there.
func (l *layout) clear(c *plan.Circle, turn float64) bool {
	for _, h := range ringOf(c, turn) {
		if slices.ContainsFunc(l.on, func(o round) bool { return h.gap(o) < h.r }) {
			return false
		}
	}
	return true
}

// placeCylinders lays bores, and the face's outline: the smallest boss about the whole
// pattern. What the simple part cannot carry is left out and said.
func (l *layout) placeCylinders() error {
	holes := slices.Clone(l.on)
	for _, c := range l.plan.Cylinders {
		if c.Diameter == nil {
			return l.lacks("cylinder "+c.ID, "diameter", "diameter: {nominal: 40}")
		}
		f := round{id: c.ID, bore: true, r: c.Diameter.Nominal / 2}
		if c.At != nil && c.ID != l.plan.Frame.Axis {
			f.x, f.y = c.At[0], c.At[1]
		}
		outside := func(h round) bool { return f.distance(h)+h.r >= f.r }
		switch {
		case c.Side == report.External && len(holes) > 0 && !slices.ContainsFunc(holes, outside):
			less := f.id
			if l.outer == "" || f.r < l.disc.r {
				less, l.outer, l.disc = l.outer, f.id, f
			}
			if less != "" {
				l.leave(less, "one boss about the whole pattern is simulated, and that is %s.", l.outer)
			}
		case c.Side == report.External:
			l.leave(c.ID, "of bosses only one about the whole pattern is simulated.")
		case slices.ContainsFunc(l.on, func(o round) bool { return f.gap(o) <= 0 }):
			l.leave(c.ID, "a bore of %s mm there would cut into the holes.", wording.Short(2*f.r))
		default:
			if c.Side == "" {
				l.assume("Cylinder %s is taken for a bore, as the plan does not say its side.", c.ID)
			}
			l.on = append(l.on, f)
		}
	}
	if l.outer != "" {
		l.assume("%s is the outer wall of the part.", l.outer)
	}
	return nil
}

// sizeDisc makes the face just large enough for what is on it, with a margin.
func (l *layout) sizeDisc(margin float64) {
	l.disc.r = 3 * margin
	if len(l.on) == 0 {
		return
	}
	box := r2.EmptyRect()
	for _, f := range l.on {
		at, size := r2.Point{X: f.x, Y: f.y}, r2.Point{X: 2 * f.r, Y: 2 * f.r}
		box = box.Union(r2.RectFromCenterSize(at, size))
	}
	l.disc = round{x: box.Center().X, y: box.Center().Y}
	for _, f := range l.on {
		l.disc.r = max(l.disc.r, l.disc.distance(f)+f.r+margin)
	}
}

// checkClear refuses holes that run into each other or off the face: such a plan is of no one
// part.
func (l *layout) checkClear() error {
	for i, a := range l.on {
		for _, b := range l.on[:i] {
			if a.gap(b) <= 0 {
				return l.fail("%s and %s run into each other, so there is no such part to simulate: "+
					"mend their places or sizes", b.id, a.id)
			}
		}
		if l.disc.distance(a)+a.r > l.disc.r {
			return l.fail("%s lies beyond %s, so there is no such part to simulate: mend their "+
				"places or sizes", a.id, l.outer)
		}
	}
	return nil
}

// takeOff takes what is left out off the plan.
func (l *layout) takeOff() {
	p := l.plan
	p.Holes = slices.DeleteFunc(p.Holes, func(h plan.Hole) bool { return l.gone[h.ID] })
	p.Planes = slices.DeleteFunc(p.Planes, func(f plan.Plane) bool { return l.gone[f.ID] })
	p.Cylinders = slices.DeleteFunc(p.Cylinders, func(c plan.Cylinder) bool { return l.gone[c.ID] })
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
		e.Holes = append(e.Holes,
			scansim.HoleSpec{X: f.x - l.disc.x, Y: f.y - l.disc.y, Diameter: 2 * f.r})
	}
	return scansim.Flange(scansim.FlangeSpec{Name: l.plan.Part, Diameter: 2 * l.disc.r,
		Thickness: l.thick, Holes: -1, Extras: e})
}

// area is that of the surface that a scanner above the part sees, mm², roughly.
func (l *layout) area() float64 {
	a := math.Pi * l.disc.r * (l.disc.r + 2*l.thick)
	for _, f := range l.on {
		a += math.Pi * f.r * (2*l.thick - f.r)
	}
	return a
}
