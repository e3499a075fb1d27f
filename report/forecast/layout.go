package forecast

import (
	"fmt"
	"math"

	"spotface/report/plan"
	"spotface/report/wording"
)

// round is a round feature of the simulated part, seen along Z in the datum
// frame: a hole, a bore or a boss.
type round struct {
	id     string
	x, y   float64
	r      float64
	depth  float64 // of a hole that does not go through; 0: through
	height float64 // of a boss, over the mounting face
}

func (a round) distance(b round) float64 { return math.Hypot(a.x-b.x, a.y-b.y) }

// layout is where everything on the simulated part goes. Its frame is the plan's
// datum frame: origin on the axis, Z out of the mounting face in z = 0, X through
// the clocking hole.
type layout struct {
	plan   *plan.Plan // a copy of what was asked, less what is left out
	margin float64    // of the face about a hole, mm

	holes  []round // of circles and single ones
	bores  []round
	bosses []round
	pads   []round // raised pads, or where height is negative sunk ones
	cuts   []cut
	outer  *round // the boss that the face lies on; nil: a disc of its own
	disc   round  // the mounting face's outline
	thick  float64

	assumed, leftOut []string
}

func (l *layout) assume(format string, args ...any) {
	l.assumed = append(l.assumed, fmt.Sprintf(format, args...))
}

func (l *layout) leave(format string, args ...any) {
	l.leftOut = append(l.leftOut, fmt.Sprintf(format, args...))
}

// layOut places the plan's features. depth is the thickness of the part, mm; 0
// means that of its smallest hole. spacing is the scan's.
func layOut(p *plan.Plan, depth, spacing float64) (*layout, error) {
	copied := *p
	l := &layout{plan: &copied}
	if err := l.placeCircles(); err != nil {
		return nil, err
	}
	if err := l.placeHoles(); err != nil {
		return nil, err
	}
	smallest := math.Inf(1)
	largest := 0.0
	for _, h := range l.holes {
		smallest, largest = min(smallest, 2*h.r), max(largest, 2*h.r)
	}
	// A face needs some spacings about a hole to be seen as one.
	l.margin = max(largest, 12*spacing, 3)
	switch {
	case depth > 0:
		l.thick = depth
		l.assume("The part is %s mm thick, as asked; holes and bores go through.", wording.Short(depth))
	case len(l.holes) > 0:
		l.thick = smallest
		l.assume("The part is %s mm thick, as much as its smallest hole is wide; holes and bores go through.", wording.Short(smallest))
	default:
		l.thick = max(10*spacing, 5)
		l.assume("The part is %s mm thick; bores go through.", wording.Short(l.thick))
	}
	if err := l.placeCylinders(); err != nil {
		return nil, err
	}
	l.sizeDisc()
	l.placeStrays()
	l.placePlanes()
	if err := l.checkClear(); err != nil {
		return nil, err
	}
	if l.outer == nil {
		l.assume("The mounting face is a disc of %s mm, just large enough.", wording.Short(math.Round(20*l.disc.r)/10))
	}
	return l, nil
}

// main is the number of the circle that clocks the frame: the first of those with
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

// placeCircles lays the holes of the bolt circles.
func (l *layout) placeCircles() error {
	main := mainCircle(l.plan)
	order := []int{main}
	for i := range l.plan.BoltCircles {
		if i != main {
			order = append(order, i)
		}
	}
	for _, i := range order {
		if i < 0 {
			break
		}
		c := &l.plan.BoltCircles[i]
		switch {
		case c.PitchDiameter == nil:
			return l.lacks("bolt circle "+c.ID, "pitch_diameter", "pitch_diameter: {nominal: 84}")
		case c.HoleDiameter == nil:
			return l.lacks("bolt circle "+c.ID, "hole_diameter", "hole_diameter: {nominal: 6.6}")
		}
		if !(c.HoleDiameter.Nominal < c.PitchDiameter.Nominal) {
			return l.fail("bolt circle %s has holes of %s mm on %s mm: they leave no face between them", c.ID,
				wording.Short(c.HoleDiameter.Nominal), wording.Short(c.PitchDiameter.Nominal))
		}
		start := 0.0
		if i == main {
			start = l.clocked(c)
		} else {
			start = l.freeTurn(c)
		}
		l.holes = append(l.holes, ringOf(c, start)...)
	}
	return nil
}

// lacks is the error of a size without which there is no part to simulate.
func (l *layout) lacks(feature, key, example string) error {
	return l.fail("%s has no %s, which a forecast needs to build the part: add it, as in %q", feature, key, example)
}

func (l *layout) fail(format string, args ...any) error {
	return &plan.Error{File: l.plan.File, Message: fmt.Sprintf(format, args...)}
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
		out = append(out, round{id: fmt.Sprintf("%s/%d", c.ID, k+1), x: x + r*cos, y: y + r*sin, r: c.HoleDiameter.Nominal / 2})
	}
	return out
}

// clocked is where the main circle's first hole lies: on the frame's X, unless a
// hole of its own clocks the frame.
func (l *layout) clocked(c *plan.Circle) float64 {
	for _, h := range l.plan.Holes {
		if h.ID == l.plan.Frame.Clock && h.ID != "" {
			return l.freeTurn(c)
		}
	}
	_, y := centre(c)
	// y + r sin(start) = 0
	return math.Asin(max(-1, min(1, -2*y/c.PitchDiameter.Nominal)))
}

// freeTurn turns a circle whose place the plan leaves open until its holes lie
// clear of those that are placed already; the first turn of the clearest.
func (l *layout) freeTurn(c *plan.Circle) float64 {
	best, clear := 0.0, math.Inf(-1)
	const steps = 24
	for k := range steps {
		start := float64(k) * 2 * math.Pi / float64(len(c.Angles)) / steps
		room := math.Inf(1)
		for _, h := range ringOf(c, start) {
			for _, other := range l.holes {
				room = min(room, h.distance(other)-h.r-other.r)
			}
			for _, other := range l.plan.Holes {
				if other.At != nil && other.Diameter != nil {
					room = min(room, math.Hypot(h.x-other.At[0], h.y-other.At[1])-h.r-other.Diameter.Nominal/2)
				}
			}
		}
		if room > max(clear, 0)+1e-9 && clear <= h0(c) {
			best, clear = start, room
		}
	}
	return best
}

// h0 is a clearance, mm, that is enough: half a hole.
func h0(c *plan.Circle) float64 { return c.HoleDiameter.Nominal / 2 }

// placeHoles lays the single holes that have a place; placeStrays the others.
func (l *layout) placeHoles() error {
	for _, h := range l.plan.Holes {
		if h.Diameter == nil {
			return l.lacks("hole "+h.ID, "diameter", "diameter: {nominal: 12}")
		}
		if h.At != nil {
			l.holes = append(l.holes, round{id: h.ID, x: h.At[0], y: h.At[1], r: h.Diameter.Nominal / 2})
		}
	}
	return nil
}

// sizeDisc makes the face just large enough for what is on it.
func (l *layout) sizeDisc() {
	if l.outer != nil {
		l.disc = *l.outer
		return
	}
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	all := l.onFace()
	for _, f := range all {
		lo = [2]float64{min(lo[0], f.x-f.r), min(lo[1], f.y-f.r)}
		hi = [2]float64{max(hi[0], f.x+f.r), max(hi[1], f.y+f.r)}
	}
	if len(all) == 0 {
		l.disc = round{r: 3 * l.margin}
		return
	}
	l.disc = round{x: (lo[0] + hi[0]) / 2, y: (lo[1] + hi[1]) / 2}
	for _, f := range all {
		l.disc.r = max(l.disc.r, l.disc.distance(f)+f.r+l.margin)
	}
}

func (l *layout) onFace() []round {
	var all []round
	return append(append(append(all, l.holes...), l.bores...), l.bosses...)
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
		if l.outer == nil {
			// Clear of what is there, which ends a margin inside, and the face
			// grown about it.
			x = left + l.margin/2 - r
			grow := (left - (x - r - l.margin)) / 2
			l.disc.x, l.disc.r = l.disc.x-grow, l.disc.r+grow
		}
		l.holes = append(l.holes, round{id: h.ID, x: x, y: l.disc.y, r: r})
		l.assume("Hole %s has no place (at) in the plan; it is put at (%s, %s).", h.ID, wording.Short(x), wording.Short(l.disc.y))
	}
}

// checkClear refuses holes, bores and bosses that run into each other or off the
// face: such a plan is of no one part.
func (l *layout) checkClear() error {
	all := l.onFace()
	for i, a := range all {
		for _, b := range all[:i] {
			concentric := a.distance(b) < 1e-6 && !l.isHole(a) && !l.isHole(b)
			if concentric || a.distance(b) > a.r+b.r {
				continue
			}
			return l.fail("%s and %s run into each other, so there is no such part to simulate: mend their places or sizes", b.id, a.id)
		}
		if l.disc.distance(a)+a.r > l.disc.r {
			return l.fail("%s lies beyond %s, so there is no such part to simulate: mend their places or sizes", a.id, l.outer.id)
		}
	}
	return nil
}

func (l *layout) isHole(a round) bool {
	for _, h := range l.holes {
		if h.id == a.id {
			return true
		}
	}
	return false
}
