package check

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/stat"

	"spotface/bolt"
	"spotface/report"
	"spotface/report/plan"
	"spotface/report/wording"
)

// Ambiguous is in the note of a ring whose holes the plan's features do not tell apart.
const Ambiguous = "equally well"

// turn is one way to lay the planned angles on a circle's holes.
type turn struct {
	place []int
	// zero is where the plan's angle 0 lies, counted as AngleDeg is.
	zero float64
	n    int     // holes placed
	rms  float64 // degrees
}

// wrap180 turns a, degrees, into [-180, 180].
func wrap180(a float64) float64 { return math.Remainder(a, 360) }

// turnsOf returns the ways to lay the planned angles on the holes that place the
// most of them and fit within the uncertainty of the best.
func turnsOf(p *plan.Circle, c *report.BoltCircle) []turn {
	reach := 360.0
	for i, a := range p.Angles {
		next := p.Angles[(i+1)%len(p.Angles)]
		if gap := math.Mod(next-a+360, 360); gap > 0 {
			reach = min(reach, 0.4*gap)
		}
	}
	seen := make(map[string]bool)
	var all []turn
	for _, k := range c.Clocking {
		for _, a := range p.Angles {
			t := layTurn(p, c, k.AngleDeg-a, reach)
			if key := fmt.Sprint(t.place); t.n >= 3 && !seen[key] {
				seen[key] = true
				all = append(all, t)
			}
		}
	}
	if len(all) == 0 {
		return nil
	}
	slices.SortStableFunc(all, func(s, t turn) int {
		return cmp.Or(cmp.Compare(t.n, s.n), cmp.Compare(math.Round(s.rms*1e9), math.Round(t.rms*1e9)))
	})
	u := 0.0
	for _, k := range c.Clocking {
		u = max(u, k.UncertaintyDeg)
	}
	// Two readings are equal where the scan's own uncertainty could swap them.
	limit := math.Hypot(all[0].rms, max(u, 1e-6))
	for i, t := range all {
		if t.n < all[0].n || t.rms > limit {
			return all[:i]
		}
	}
	return all
}

// layTurn gives each planned angle, turned by zero degrees, the nearest hole
// within reach, which is less than half of any gap between planned angles, so
// that no hole is asked for twice. The holes are in order of angle.
func layTurn(p *plan.Circle, c *report.BoltCircle, zero, reach float64) turn {
	t := turn{place: make([]int, len(p.Angles))}
	var dev []float64
	n := len(c.Clocking)
	for i, a := range p.Angles {
		t.place[i] = -1
		want := wrap180(a+zero-180) + 180
		next := sort.Search(n, func(j int) bool { return c.Clocking[j].AngleDeg >= want })
		best := reach
		for _, j := range []int{(next + n - 1) % n, next % n} {
			d := wrap180(c.Clocking[j].AngleDeg - want)
			if math.Abs(d) < best {
				best, t.place[i] = math.Abs(d), j
			}
		}
		if j := t.place[i]; j >= 0 {
			dev = append(dev, wrap180(c.Clocking[j].AngleDeg-want))
		}
	}
	mean, rms := stat.PopMeanStdDev(dev, nil)
	t.n, t.rms, t.zero = len(dev), rms, zero+mean
	return t
}

// azimuth is where a turn's first place lies in the frame, degrees from X. What
// is a hair short of a whole turn counts as none.
func (m *match) azimuth(k *report.BoltCircle, t turn) float64 {
	h := m.rep.Hole(k.Clocking[0].Hole)
	if h == nil {
		return 0
	}
	d := h.Centre.R3().Sub(k.Centre.R3())
	a := degrees(math.Atan2(d.Dot(m.frame.Y.R3()), d.Dot(m.frame.X.R3()))) +
		t.zero - k.Clocking[0].AngleDeg
	if a = math.Mod(a+720, 360); a > 359 {
		a -= 360
	}
	return a
}

// turnFrame chooses the turn of the frame about its axis, and with it which hole is the plan's
// first. Where the plan clocks by a hole of its own, that hole decides; else the planned places
// of other features; where these fit alike, the scan's own clocking hole stays, and a note says
// so.
func (m *match) turnFrame(main int) {
	c := &m.circles[main]
	p, k := &m.plan.BoltCircles[main], &m.rep.BoltCircles[c.at]
	if c.turns = turnsOf(p, k); len(c.turns) == 0 {
		c.at = -1
		return
	}
	if m.frame == nil {
		c.take(m, p, c.turns[0])
		return
	}
	frames := m.clockedByHole()
	own := frames != nil
	if !own {
		frames = m.clockedByTurn(c, p, k)
	}
	best, ties := m.bestFrame(frames)
	m.frame = frames[best]
	if own {
		c.choose(m, main)
	} else {
		c.take(m, p, c.turns[best])
	}
	switch {
	case ties < 2:
	case own:
		m.note("%s holes of the scan fit the clocking hole %s "+Ambiguous+"; %s is taken.",
			wording.Capital(wording.Word(ties)), m.plan.Frame.Clock, m.frame.Clock)
	default:
		m.note("Circle %s fits at %s turns "+Ambiguous+"; %s is taken for the plan's %s. A "+
			"feature beside the axis, with its place (at) in the plan, would tell them apart.",
			p.ID, wording.Word(ties), cmp.Or(m.frame.Clock, "an empty place"),
			clockName(m.clockPlace(c)))
	}
}

// clockedByHole returns the frames in which X runs through a hole that may be
// the plan's clocking hole; nil where the plan does not name a single hole or
// the scan has none like it.
func (m *match) clockedByHole() []*report.Frame {
	if m.clockCircle >= 0 {
		return nil
	}
	ph := &m.plan.Holes[m.clockAt]
	var out []*report.Frame
	for i := range m.rep.Holes {
		h := &m.rep.Holes[i]
		if _, ok := near(h.Diameter, ph.Diameter); !ok {
			continue
		}
		q := m.frame.Point(h.Centre)
		r := math.Hypot(q[0], q[1])
		if r < 1e-6 {
			continue
		}
		if ph.At != nil {
			want := math.Hypot(ph.At[0], ph.At[1])
			if math.Abs(r-want) > max(atReach, atShare*want) {
				continue
			}
		}
		out = append(out, m.turned(h.Centre.R3(), h.ID))
	}
	if out == nil {
		m.note("The plan's clocking hole %s was not found; the frame is clocked by the bolt "+
			"circle.", ph.ID)
	}
	return out
}

func (m *match) turned(toward r3.Vector, clock string) *report.Frame {
	f := m.frame
	return newFrame(bolt.DatumFrame(f.Origin.R3(), f.Z.R3(), f.Origin.R3(), toward), f.Face, f.Axis,
		clock)
}

// clockedByTurn returns a frame for each turn of the circle: X through the hole
// at the place that the plan clocks by, or through that place where it has no hole. The turn
// that keeps the scan's own clocking hole comes first.
func (m *match) clockedByTurn(c *circleMatch, p *plan.Circle,
	k *report.BoltCircle) []*report.Frame {
	clock, at := m.frame.Clock, m.clockPlace(c)
	keeps := func(t turn) bool {
		return t.place[at] >= 0 && k.Clocking[t.place[at]].Hole == clock
	}
	if i := slices.IndexFunc(c.turns, keeps); i > 0 {
		c.turns = slices.Concat(c.turns[i:i+1], c.turns[:i], c.turns[i+1:])
	}
	out := make([]*report.Frame, len(c.turns))
	for i, t := range c.turns {
		if j := t.place[at]; j >= 0 {
			h := m.rep.Hole(k.Clocking[j].Hole)
			out[i] = m.turned(h.Centre.R3(), h.ID)
			continue
		}
		a := (m.azimuth(k, t) + p.Angles[at]) * math.Pi / 180
		dir := m.frame.X.R3().Mul(math.Cos(a)).Add(m.frame.Y.R3().Mul(math.Sin(a)))
		out[i] = m.turned(k.Centre.R3().Add(dir.Mul(k.PitchDiameter/2)), "")
	}
	return out
}

// clockPlace is the place of a circle that X runs through: the plan's, else the first.
func (m *match) clockPlace(c *circleMatch) int {
	if m.clockCircle >= 0 && c == &m.circles[m.clockCircle] {
		return m.clockAt
	}
	return 0
}

func clockName(at int) string {
	if at == 0 {
		return "first hole"
	}
	return fmt.Sprintf("hole %d", at+1)
}

// bestFrame returns the frame that puts the plan's features nearest their
// places, the first one of equals, and how many are equal.
func (m *match) bestFrame(frames []*report.Frame) (best, ties int) {
	cost := make([]float64, len(frames))
	for i, f := range frames {
		if cost[i] = m.placeCost(f); cost[i] < cost[best]-1 {
			best = i
		}
	}
	for _, c := range cost {
		if math.Abs(c-cost[best]) <= 1 {
			ties++
		}
	}
	return best, ties
}

// placeCost adds up, over the planned features with a place off the axis, the
// squared distance of the nearest feature like it from that place, in units of
// 0.5 mm and at most 100 for each.
func (m *match) placeCost(f *report.Frame) float64 {
	total := 0.0
	add := func(d float64) { total += min(d*d/0.25, 100) }
	for _, k := range m.kinds {
		for i := range k.wanted {
			if w := &k.wanted[i]; w.At != nil {
				_, d := k.nearest(f, w, false)
				add(d)
			}
		}
	}
	for i, pc := range m.plan.BoltCircles {
		if j := m.circles[i].at; pc.At != nil && j >= 0 {
			q := f.Point(m.rep.BoltCircles[j].Centre)
			add(math.Hypot(q[0]-pc.At[0], q[1]-pc.At[1]))
		}
	}
	return total
}

// circleMatch is a planned circle found in the scan.
type circleMatch struct {
	at    int      // in the report's circles; -1: not found
	turns []turn   // that fit equally well, best first
	there []string // for each planned angle the hole of the scan, "" for none
	extra []string // holes of the ring without a place in the plan
	err   error    // why it was not found, or could not be counted anew
}

// take fixes the turn. A place that no hole of the ring fills may be filled by
// another one, of a size so wrong that it was not counted to the ring.
func (c *circleMatch) take(m *match, p *plan.Circle, t turn) {
	k := &m.rep.BoltCircles[c.at]
	c.there = make([]string, len(t.place))
	first := m.rep.Hole(k.Clocking[0].Hole)
	for i, a := range p.Angles {
		if j := t.place[i]; j >= 0 {
			c.there[i] = k.Clocking[j].Hole
			continue
		} else if first == nil {
			continue
		}
		arm := first.Centre.R3().Sub(k.Centre.R3()).Normalize().Mul(k.PitchDiameter / 2)
		sin, cos := math.Sincos((a + t.zero - k.Clocking[0].AngleDeg) * math.Pi / 180)
		at := k.Centre.R3().Add(arm.Mul(cos)).Add(k.Axis.R3().Cross(arm).Mul(sin))
		reach := max(atReach, 0.02*k.PitchDiameter)
		for j := range m.rep.Holes {
			h := &m.rep.Holes[j]
			inRing := func(b report.BoltCircle) bool { return b.Has(h.ID) }
			if d := h.Centre.R3().Distance(at); h.Face == k.Face && h.Diameter > 0 && d < reach &&
				!slices.ContainsFunc(m.rep.BoltCircles, inRing) {
				reach, c.there[i] = d, h.ID
			}
		}
	}
}

// choose takes, for a circle that does not clock the frame, the turn whose first
// hole is the first one counter-clockwise from the frame's X.
func (c *circleMatch) choose(m *match, i int) {
	p, k := &m.plan.BoltCircles[i], &m.rep.BoltCircles[c.at]
	if c.turns = turnsOf(p, k); len(c.turns) == 0 {
		c.at = -1
		return
	}
	best := c.turns[0]
	if m.frame != nil {
		best = slices.MinFunc(c.turns, func(s, t turn) int {
			return cmp.Compare(m.azimuth(k, s), m.azimuth(k, t))
		})
	}
	c.take(m, p, best)
}
