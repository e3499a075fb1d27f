package segment

import (
	"math"

	"github.com/golang/geo/r3"
)

// dropBands gives up cones and cylinders that are only the bands by which a
// doubly curved surface was drawn: of a torus or a turned profile, round the
// axis or along it.
func (f *facetFinder) dropBands() {
	kept := f.bodies[:0]
	for i := range f.bodies {
		if !f.isBand(int32(i)) {
			kept = append(kept, f.bodies[i])
		}
	}
	f.bodies = kept
	f.settle()
}

// isBand reports whether beyond one end of a body, or both, the surface goes on
// as a doubly curved one does.
func (f *facetFinder) isBand(id int32) bool {
	const most = 0.6 // of an end's length decides
	b := &f.bodies[id]
	_, axis, ok := axisOf(b.surface)
	if !ok {
		return false
	}
	var total, on [2]float64
	for _, p := range b.panels {
		along := across(axis, b.surface.outward(f.panels[p].centre)).Normalize()
		for _, l := range f.panels[p].links {
			edge := f.m.pts[l.b].Sub(f.m.pts[l.a])
			if f.owner[l.to] == id || math.Abs(edge.Normalize().Dot(along)) > 0.7 {
				continue
			}
			end := 0
			if f.m.pts[l.a].Add(f.m.pts[l.b]).Mul(0.5).Sub(f.panels[p].centre).Dot(along) > 0 {
				end = 1
			}
			total[end] += l.length
			if l.angle <= sharpTurn && f.goesOn(p, l) {
				on[end] += l.length
			}
		}
	}
	return on[0] > most*total[0] || on[1] > most*total[1]
}

// sharpTurn is the turn, rad, from which an edge counts as one of the part and
// not of the tessellation of a freeform surface. Common practice, no source.
const sharpTurn = 25 * math.Pi / 180

// goesOn reports whether the panel beyond a link is as wide as this one, more
// or less, and the next beyond it turns on by a similar angle. Where a surface
// merely runs into a fillet, the first turn is half of those that follow.
func (f *facetFinder) goesOn(p int32, l panelLink) bool {
	const wide, turn, gentle = 2.5, 1.6, 3 * math.Pi / 180
	if len(f.panels[l.to].corners) > 64 {
		return false // a face, no facet
	}
	a, b := f.m.pts[l.a], f.m.pts[l.b]
	dir := b.Sub(a).Normalize()
	off := func(q r3.Vector) float64 { return across(q.Sub(a), dir).Norm() }
	width := func(id int32) float64 {
		w := 0.0
		for _, v := range f.panels[id].corners {
			w = max(w, off(f.m.pts[v]))
		}
		return w
	}
	near := func(x, y, ratio float64) bool { return x < ratio*y && y < ratio*x }
	mine, other := width(p), width(l.to)
	if !near(mine, other, wide) {
		return false
	}
	for _, n := range f.panels[l.to].links {
		c, d := f.m.pts[n.a], f.m.pts[n.b]
		if min(off(c), off(d)) > 0.5*other && math.Abs(d.Sub(c).Normalize().Dot(dir)) > 0.8 {
			return n.convex == l.convex && near(n.angle, l.angle, turn) || max(n.angle, l.angle) < gentle
		}
	}
	return false
}
