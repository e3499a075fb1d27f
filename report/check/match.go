package check

import (
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/stat"

	"spotface/bolt"
	"spotface/report"
	"spotface/report/plan"
)

// match says which feature of the scan each feature of the plan is: indices
// into the report's slices, -1 where the scan does not show it.
type match struct {
	plan    *plan.Plan
	rep     *report.Report
	circles []circleMatch
	kinds   [3]kind       // holes, cylinders, planes
	frame   *report.Frame // nil where the scan gives none
	// The hole that clocks the frame: place clockAt of the plan's circle clockCircle, or
	// where that is -1 entry clockAt of the plan's holes.
	clockCircle, clockAt int
	notes                []string
}

// near returns how far a measured diameter is from a nominal one, in units of the largest
// allowed distance, and whether it is within that. A missing nominal fits all.
func near(measured float64, s *plan.Size) (float64, bool) {
	if s == nil {
		return 0, true
	}
	d := math.Abs(measured-s.Nominal) / max(sizeShare*s.Nominal, sizeLeast)
	return d, d <= 1
}

func (m *match) note(format string, args ...any) {
	m.notes = append(m.notes, fmt.Sprintf(format, args...))
}

// matchPlan finds the plan's features in the report. First the bolt circles by
// what they are; the main one gives the face, the axis and the turn of the
// datum frame; then everything else, by size and by its place in that frame.
func matchPlan(p *plan.Plan, rep *report.Report) *match {
	m := &match{plan: p, rep: rep, kinds: kindsOf(p, rep)}
	m.clockCircle, m.clockAt, _ = p.ClockedBy() // a valid plan's clock names a hole
	m.matchCircles()
	m.frame = rep.Frame
	main := m.main()
	if main >= 0 {
		m.matchFrame(main)
		m.turnFrame(main)
	}
	for i := range m.circles {
		if c := &m.circles[i]; c.at >= 0 && i != main {
			c.choose(m, i)
		}
	}
	m.matchSingle()
	return m
}

// main is the number of the plan's circle that clocks the frame: the one that the plan
// names, else the first one that the scan shows, of those with most holes.
func (m *match) main() int {
	there := func(i int) bool { return m.circles[i].at >= 0 }
	if i := m.clockCircle; i >= 0 && there(i) {
		return i
	}
	return m.plan.MainCircle(there)
}

// matchCircles gives each planned circle the circle of the scan that is most
// like it by pitch diameter, hole diameter and count; the best pair first.
func (m *match) matchCircles() {
	m.circles = make([]circleMatch, len(m.plan.BoltCircles))
	for i := range m.circles {
		m.circles[i].at = -1
	}
	taken := make([]bool, len(m.rep.BoltCircles))
	for {
		i, at, least := -1, -1, math.Inf(1)
		for k := range m.circles {
			for j := range taken {
				d := m.circleCost(&m.plan.BoltCircles[k], &m.rep.BoltCircles[j])
				if m.circles[k].at < 0 && !taken[j] && d < least {
					i, at, least = k, j, d
				}
			}
		}
		if i < 0 {
			return
		}
		m.circles[i].at, taken[at] = at, true
	}
}

// circleCost is how unlike two circles are, infinite where they cannot be the same.
func (m *match) circleCost(p *plan.Circle, c *report.BoltCircle) float64 {
	pitch, ok := near(c.PitchDiameter, p.PitchDiameter)
	size, like := near(m.meanDiameter(c), p.HoleDiameter)
	want, got := len(p.Angles), len(c.Clocking)
	if !ok || !like || got < 3 || 2*got < want || got > 2*want {
		return math.Inf(1)
	}
	return pitch + size + math.Abs(float64(want-got))
}

func (m *match) meanDiameter(c *report.BoltCircle) float64 {
	var all []float64
	for _, k := range c.Clocking {
		if h := m.rep.Hole(k.Hole); h != nil && h.Diameter > 0 {
			all = append(all, h.Diameter)
		}
	}
	return stat.Mean(all, nil) // of none it is no number, and near nothing
}

// matchFrame puts the datum frame on the main circle's face, with its origin
// where the planned axis meets it. X stays to be turned.
func (m *match) matchFrame(main int) {
	c := &m.rep.BoltCircles[m.circles[main].at]
	f := m.rep.Frame
	face := m.rep.Plane(c.Face)
	z, on := c.Axis.R3(), c.Centre.R3()
	if face != nil {
		z, on = face.Normal.R3(), face.Point.R3()
	}
	axisID, through := c.ID, c.Centre.R3()
	if k := m.circleOf(m.plan.Frame.Axis); k != nil {
		axisID, through = k.ID, k.Centre.R3()
	} else if a := m.axisNear(c, z); a != nil {
		axisID, through = a.id, a.meet(on, z)
		if a.hole != nil {
			through = a.point.R3()
		} else if h := m.rep.Mouth(a.id, c.Face); h != nil {
			through = h.Centre.R3()
		}
	} else if f != nil && f.Face == c.Face {
		axisID, through = f.Axis, f.Origin.R3()
	}
	toward := m.rep.Hole(c.Clocking[0].Hole)
	if f != nil && f.Face == c.Face {
		if h := m.rep.Hole(f.Clock); h != nil && c.Has(h.ID) {
			toward = h
		}
	}
	if toward == nil {
		return
	}
	m.frame = newFrame(bolt.DatumFrame(on, z, through, toward.Centre.R3()), c.Face, axisID,
		toward.ID)
}

// axisNear returns what may be the hole or cylinder that the plan's frame names for its axis:
// of the planned side and size, perpendicular to the circle's face within 5 degrees, nearest
// the circle's centre and within a tenth of the pitch diameter of it; a hole lies in that face.
func (m *match) axisNear(c *report.BoltCircle, z r3.Vector) (best *seen) {
	name, least, centre := m.plan.Frame.Axis, math.Inf(1), c.Centre.R3()
	named := false
	for _, k := range m.kinds[:planes] {
		i := slices.IndexFunc(k.wanted, func(w wanted) bool { return w.ID == name })
		if i < 0 {
			continue
		}
		named = true
		for _, s := range k.seen {
			if s.hole != nil && s.hole.Face != c.Face || !k.wanted[i].like(s) ||
				math.Abs(s.axis.R3().Dot(z)) < math.Cos(5*math.Pi/180) {
				continue
			}
			d, _ := near(s.size.value, k.wanted[i].Size)
			off := s.meet(centre, z).Distance(centre) / (c.PitchDiameter / 10)
			if off <= 1 && d+off < least {
				best, least = s, d+off
			}
		}
	}
	if named && best == nil {
		m.note("The plan's axis %s was not found in the scan; the frame's origin is taken as in a "+
			"measurement without a plan.", name)
	}
	return best
}

// meet returns where the feature's axis meets the plane through on with normal z.
func (s *seen) meet(on, z r3.Vector) r3.Vector {
	p, a := s.point.R3(), s.axis.R3()
	return p.Add(a.Mul(on.Sub(p).Dot(z) / a.Dot(z)))
}

// circleOf is the circle of the scan that a planned one of that id was matched to, or nil.
func (m *match) circleOf(id string) *report.BoltCircle {
	for i, p := range m.plan.BoltCircles {
		if at := m.circles[i].at; p.ID == id && at >= 0 {
			return &m.rep.BoltCircles[at]
		}
	}
	return nil
}

func newFrame(f bolt.Frame, face, axis, clock string) *report.Frame {
	return &report.Frame{Origin: vec(f.Origin), X: vec(f.X), Y: vec(f.Y), Z: vec(f.Z), Face: face,
		Axis: axis, Clock: clock}
}

func vec(v r3.Vector) report.Vec { return report.Vec{v.X, v.Y, v.Z} }

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// polar returns the place at a radius and an angle, degrees.
func polar(radius, deg float64) [2]float64 {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return [2]float64{radius * cos, radius * sin}
}
