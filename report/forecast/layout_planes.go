package forecast

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/report/plan"
	"spotface/report/wording"
)

// cut is a plane that bounds the part.
type cut struct {
	id         string
	at, normal r3.Vector
}

// placePlanes lays the faces. The mounting face is there anyway; of the others
// those that the simple part can carry.
func (l *layout) placePlanes() {
	face := l.plan.Frame.Face
	if face == "" && len(l.plan.Planes) > 0 && l.plan.Planes[0].At == nil {
		face = l.plan.Planes[0].ID // as in a check
	}
	keep := make([]plan.Plane, 0, len(l.plan.Planes))
	gone := make(map[string]bool)
	for _, p := range l.plan.Planes {
		why := ""
		if p.ID != face {
			why = l.placePlane(&p)
		}
		if why != "" {
			l.leave("%s: %s", p.ID, why)
			gone[p.ID] = true
			continue
		}
		keep = append(keep, p)
	}
	l.plan.Planes = keep
	if len(gone) == 0 {
		return
	}
	cylinders := make([]plan.Cylinder, 0, len(l.plan.Cylinders))
	for _, c := range l.plan.Cylinders {
		if gone[c.PerpendicularTo] {
			if c.Perpendicularity > 0 {
				l.leave("%s perpendicularity: its plane %s is left out.", c.ID, c.PerpendicularTo)
			}
			c.PerpendicularTo, c.Perpendicularity = "", 0
		}
		cylinders = append(cylinders, c)
	}
	l.plan.Cylinders = cylinders
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
	const upright = 0.9994 // cos 2°
	switch {
	case n.Z > upright && math.Abs(at.Z) < 0.5:
		return "" // the mounting face, or in one plane with it
	case n.Z > upright:
		return l.placeLevel(p.ID, at)
	case n.Z < -0.2:
		return "it faces away from a scanner above the mounting face."
	}
	for _, f := range l.onFace() {
		if r3.Vector.Dot(r3.Vector{X: f.x, Y: f.y}.Sub(at), n)+f.r > -l.margin/4 {
			return "it would cut into " + f.id + "."
		}
	}
	// The disc must reach well beyond the plane for a piece of it to show.
	middle := r3.Vector{X: l.disc.x, Y: l.disc.y}
	reach := at.Sub(middle).Dot(n) / math.Hypot(n.X, n.Y)
	switch {
	case reach <= 0:
		return "it would cut away the middle of the face."
	case l.outer != nil && reach > 0.95*l.disc.r:
		return "it lies beyond " + l.outer.id + "."
	case l.outer == nil:
		l.disc.r = max(l.disc.r, math.Hypot(reach, max(reach/2, l.margin)))
	}
	l.cuts = append(l.cuts, cut{p.ID, at, n})
	return ""
}

// placeLevel lays a plane parallel to the mounting face: the top of a boss, or a
// round pad of its own, raised or sunk.
func (l *layout) placeLevel(id string, at r3.Vector) string {
	for i := range l.bosses {
		b := &l.bosses[i]
		if at.Z > 0 && math.Hypot(b.x-at.X, b.y-at.Y) < b.r {
			b.height = at.Z
			return ""
		}
	}
	pad := round{id: id, x: at.X, y: at.Y, r: l.margin, height: at.Z}
	if -at.Z > l.thick-1 {
		return "the part is too thin to hold it; a thicker part would do."
	}
	for _, f := range l.onFace() {
		if pad.distance(f) < pad.r+f.r+l.margin/4 {
			return "it lies where " + f.id + " is."
		}
	}
	if room := l.disc.distance(pad) + pad.r + l.margin/4; room > l.disc.r {
		if l.outer != nil {
			return "it lies beyond " + l.outer.id + "."
		}
		l.disc.r = room
	}
	l.pads = append(l.pads, pad)
	l.assume("Plane %s is a round pad of %s mm.", id, wording.Short(2*pad.r))
	return ""
}
