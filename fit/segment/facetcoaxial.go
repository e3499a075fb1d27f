package segment

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// coaxial looks round the axes already found for cylinders that are there in
// pieces of two or three sides each, too few to be one alone: the tips of
// teeth. A piece of a single side stays a plane, as the end of a lug is.
func (f *facetFinder) coaxial() {
	for i := 0; i < len(f.bodies); i++ {
		point, axis, ok := axisOf(f.bodies[i].surface)
		if !ok || f.sameAxisBefore(i, point, axis) {
			continue
		}
		for _, group := range f.roundAxis(point, axis) {
			r := across(f.m.pts[f.panels[group[0]].corners[0]].Sub(point), axis).Norm()
			s := facetCyl{fit.Cylinder{Point: point, Axis: axis, Radius: r}}
			internal := f.panels[group[0]].normal.Dot(s.outward(f.panels[group[0]].centre)) < 0
			if b := f.grow(s, internal, group); b != nil && f.credible(b) {
				f.own(*b)
			}
		}
	}
}

// sameAxisBefore reports whether a body before number i has the same axis.
func (f *facetFinder) sameAxisBefore(i int, point, axis r3.Vector) bool {
	for _, b := range f.bodies[:i] {
		p, a, ok := axisOf(b.surface)
		if ok && across(p.Sub(point), axis).Norm() < 4*f.m.tol && a.Cross(axis).Norm()*f.m.size < 4*f.m.tol {
			return true
		}
	}
	return false
}

// roundAxis groups the panels without an owner whose corners lie at one radius
// about an axis and which have a neighbour that does, by radius and side.
func (f *facetFinder) roundAxis(point, axis r3.Vector) [][]int32 {
	loose := 4 * f.m.tol
	radius := map[int32]float64{} // negative: internal
	for id := range f.panels {
		p := &f.panels[id]
		if f.owner[id] >= 0 || len(p.corners) > 64 {
			continue
		}
		s := facetCyl{fit.Cylinder{Point: point, Axis: axis}}
		s.Radius = across(f.m.pts[p.corners[0]].Sub(point), axis).Norm()
		facing := p.normal.Dot(s.outward(p.centre))
		if s.Radius > loose && f.fits(s, facing < 0, int32(id), loose) {
			radius[int32(id)] = math.Copysign(s.Radius, facing)
		}
	}
	var in []int32
	for id, r := range radius {
		linked := slices.ContainsFunc(f.panels[id].links, func(l panelLink) bool {
			other, ok := radius[l.to]
			return ok && l.angle > 0 && l.smooth(r < 0) && math.Abs(other-r) <= loose
		})
		if linked {
			in = append(in, id)
		}
	}
	slices.SortFunc(in, func(a, b int32) int {
		return cmp.Or(cmp.Compare(radius[a], radius[b]), cmp.Compare(a, b))
	})
	var out [][]int32
	for from := 0; from < len(in); {
		to := from + 1
		for to < len(in) && radius[in[to]]-radius[in[to-1]] <= loose {
			to++
		}
		if to-from >= 4 {
			out = append(out, in[from:to])
		}
		from = to
	}
	return out
}
