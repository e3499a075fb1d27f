package segment

import (
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// absorb adds panels without an owner that are sides of a surface already
// found, but lie apart from it or are too few to show it by themselves: the
// narrow lands between the keyways of a bore, the tips of a spline.
func (f *facetFinder) absorb() {
	var near []int32
	for i := range f.bodies {
		b := &f.bodies[i]
		point, axis, ok := axisOf(b.surface)
		if !ok {
			continue
		}
		lo, hi := f.extent(b, point, axis)
		usual := f.widest(b)
		middle := point.Add(axis.Mul((lo + hi) / 2))
		reach := 0.0
		for _, q := range f.corners(b.panels) {
			reach = max(reach, q.Distance(middle))
		}
		near = f.centres.InRadius(vec32(middle), float32(1.001*reach), near[:0])
		slices.Sort(near)
		for _, id := range near {
			p := &f.panels[id]
			h := p.centre.Sub(point).Dot(axis)
			if f.owner[id] >= 0 || h < lo || h > hi || !f.fits(b.surface, b.internal, id, f.m.tol) ||
				b.surface.turn(f.points(p.corners)) > 1.6*usual {
				continue
			}
			f.owner[id] = int32(i)
			b.panels = append(b.panels, id)
			b.area += p.area
		}
		slices.Sort(b.panels)
	}
}

func vec32(v r3.Vector) mesh.Vec32 {
	return mesh.Vec32{float32(v.X), float32(v.Y), float32(v.Z)}
}

// widest returns the largest turn of a body's panels.
func (f *facetFinder) widest(b *facetBody) float64 {
	w := 0.0
	for _, id := range b.panels {
		w = max(w, b.surface.turn(f.points(f.panels[id].corners)))
	}
	return w
}

// join makes one body of pieces that lie on one surface and touch, or lie
// beside each other round one axis, like the halves of a bore.
func (f *facetFinder) join() {
	for i := 0; i < len(f.bodies); i++ {
		for j := i + 1; j < len(f.bodies); {
			if !f.together(&f.bodies[i], &f.bodies[j]) {
				j++
				continue
			}
			b, c := &f.bodies[i], f.bodies[j]
			b.panels = append(b.panels, c.panels...)
			slices.Sort(b.panels)
			b.area += c.area
			if s, ok := b.surface.refit(f.onSurface(b.surface, b.panels, 4*f.m.tol), 4*f.m.tol); ok {
				b.surface = s
			}
			f.bodies = slices.Delete(f.bodies, j, j+1)
			j = i + 1 // the larger body may reach one that was refused
		}
	}
	f.settle()
}

// settle notes anew which body owns each panel.
func (f *facetFinder) settle() {
	for id := range f.owner {
		f.owner[id] = -1
	}
	for i, b := range f.bodies {
		for _, id := range b.panels {
			f.owner[id] = int32(i)
		}
	}
}

// together reports whether two bodies are pieces of one surface.
func (f *facetFinder) together(a, b *facetBody) bool {
	if a.internal != b.internal || a.surface.kind() != b.surface.kind() {
		return false
	}
	holds := func(s facetSurface, b *facetBody) bool {
		for _, id := range b.panels {
			if !f.fits(s, b.internal, id, 4*f.m.tol) {
				return false
			}
		}
		return true
	}
	if !holds(a.surface, b) && !holds(b.surface, a) {
		return false
	}
	point, axis, ok := axisOf(a.surface)
	if !ok {
		return true // two pieces of one ball
	}
	alo, ahi := f.extent(a, point, axis)
	blo, bhi := f.extent(b, point, axis)
	return min(ahi, bhi)-max(alo, blo) >= -4*f.m.tol
}
