package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// find looks for spheres, then cylinders, then cones: any two rings of
// vertices on one axis lie on a sphere, a cone and, if equal, a cylinder too,
// so a sphere must show vertices inside it, and a band of a doubly curved
// surface is told from a cone by its neighbours.
func (f *facetFinder) find(ctx context.Context) error {
	order := make([]int32, len(f.panels))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(a, b int32) int {
		return cmp.Compare(f.panels[b].area, f.panels[a].area)
	})
	passes := []func(id int32) []facetSeed{
		f.ballSeeds,
		func(id int32) []facetSeed { return f.ruledSeeds(facetCylinder, id) },
		func(id int32) []facetSeed { return f.looseSeeds(facetCylinder, id) },
		func(id int32) []facetSeed { return f.ruledSeeds(facetCone, id) },
		func(id int32) []facetSeed { return f.looseSeeds(facetCone, id) },
	}
	for _, seeds := range passes {
		tried := make([]bool, len(f.panels))
		for k, id := range order {
			if k%256 == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			if f.owner[id] >= 0 || tried[id] {
				continue
			}
			if b := f.best(seeds(id), tried); b != nil {
				f.own(*b)
			}
		}
		f.absorb()
		f.join()
	}
	f.dropBands()
	f.coaxial()
	f.absorbCut()
	return ctx.Err()
}

// best grows the seeds and returns the largest body that is one, or nil. What
// grew and was refused is not tried again from its other panels.
func (f *facetFinder) best(seeds []facetSeed, tried []bool) *facetBody {
	var best *facetBody
	for _, s := range seeds {
		b := f.grow(s.surface, s.internal, s.panels)
		switch {
		case b == nil:
		case !f.credible(b):
			if len(b.panels) > 8 {
				for _, id := range b.panels {
					tried[id] = true
				}
			}
		case best == nil || len(b.panels) > len(best.panels):
			best = b
		}
	}
	return best
}

func (f *facetFinder) own(b facetBody) {
	for _, id := range b.panels {
		f.owner[id] = int32(len(f.bodies))
	}
	f.bodies = append(f.bodies, b)
}

// credible reports whether the panels show the surface beyond coincidence: a
// symmetric bevel always has its four edges on some cylinder, and a gentle
// curve follows some circle for a while.
func (f *facetFinder) credible(b *facetBody) bool {
	const (
		leastLines   = 5
		leastCorners = 10 // twice what determines a cylinder
		leastArc     = 20 * math.Pi / 180
	)
	if s, ok := b.surface.(facetBall); ok {
		inner := f.points(f.within(b.panels, f.vertices(b.panels)))
		return len(b.panels) >= 6 && spansSpace(inner, 100*f.m.tol) && s.Radius > 100*f.m.tol
	}
	point, axis, _ := axisOf(b.surface)
	arc, lines := f.arc(b, point, axis)
	if lo, hi := f.extent(b, point, axis); hi-lo <= 20*f.m.tol {
		return false
	}
	if len(lines) == 4 && b.surface.kind() == facetCylinder {
		return quarterRound(lines)
	}
	return len(lines) >= leastLines && arc >= leastArc && len(f.corners(b.panels)) >= leastCorners
}

// quarterRound reports whether four lines of a cylinder, by azimuth, are the
// coarse rounding of an edge: three equal sides of 20 to 31 degrees. A bevel
// that happens to lie on a cylinder has sides of two widths.
func quarterRound(lines []float64) bool {
	const least, most, unlike = 20 * math.Pi / 180, 31 * math.Pi / 180, 0.01
	var steps []float64
	for i, a := range lines {
		steps = append(steps, math.Mod(lines[(i+1)%4]-a+2*math.Pi, 2*math.Pi))
	}
	slices.Sort(steps)
	return steps[0] >= least && steps[2] <= most && steps[2] <= (1+unlike)*steps[0]
}

// axisOf returns a point on a surface's axis and its direction; a sphere has
// none.
func axisOf(s facetSurface) (point, axis r3.Vector, ok bool) {
	switch s := s.(type) {
	case facetCyl:
		return s.Point, s.Axis, true
	case facetCon:
		return s.Apex, s.Axis, true
	}
	return r3.Vector{}, r3.Vector{}, false
}

// arc returns the angle about an axis that the panels of a body cover, and
// where the straight lines of the surface lie that their corners mark.
func (f *facetFinder) arc(b *facetBody, point, axis r3.Vector) (arc float64, lines []float64) {
	type interval struct{ from, to float64 }
	var sides []interval
	var at []float64
	for _, id := range b.panels {
		pts := f.points(f.panels[id].corners)
		span := azimuthSpan(pts, point, axis)
		ref := f.panels[id].centre
		mid := azimuth(ref, point, axis)
		lo := 0.0
		for _, q := range pts {
			if across(q.Sub(point), axis).Norm() < 100*f.m.tol {
				continue
			}
			a := azimuth(q, point, axis)
			lo = min(lo, math.Remainder(a-mid, 2*math.Pi))
			if math.Abs(b.surface.signed(q)) <= f.m.tol {
				at = append(at, a)
			}
		}
		sides = append(sides, interval{mid + lo, mid + lo + span})
	}
	slices.Sort(at)
	for i, a := range at {
		gap := a - at[(i+len(at)-1)%len(at)]
		if i == 0 {
			gap += 2 * math.Pi
		}
		if gap > 1e-3 {
			lines = append(lines, a)
		}
	}
	// Lay the circle open at the start of the first side and add up what
	// the sides cover.
	slices.SortFunc(sides, func(p, q interval) int { return cmp.Compare(p.from, q.from) })
	end := math.Inf(-1)
	for _, x := range append(sides, interval{sides[0].from + 2*math.Pi, sides[0].from + 2*math.Pi}) {
		to := min(x.to, sides[0].from+2*math.Pi)
		if x.from > end {
			end = x.from
		}
		if to > end {
			arc += to - end
			end = to
		}
	}
	return min(arc, 2*math.Pi), lines
}

// azimuth returns the angle of q about an axis from a fixed direction.
func azimuth(q, point, axis r3.Vector) float64 {
	e1 := axis.Ortho()
	return math.Atan2(q.Sub(point).Dot(axis.Cross(e1)), q.Sub(point).Dot(e1))
}

// extent returns how far the panels of a body reach along an axis.
func (f *facetFinder) extent(b *facetBody, point, axis r3.Vector) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, q := range f.corners(b.panels) {
		h := q.Sub(point).Dot(axis)
		lo, hi = min(lo, h), max(hi, h)
	}
	return lo, hi
}

// spansSpace reports whether points do not all lie within reach of one plane.
func spansSpace(pts []r3.Vector, reach float64) bool {
	if len(pts) < 4 {
		return false
	}
	far := func(measure func(q r3.Vector) float64) r3.Vector {
		return slices.MaxFunc(pts, func(p, q r3.Vector) int { return cmp.Compare(measure(p), measure(q)) })
	}
	a := pts[0]
	b := far(func(q r3.Vector) float64 { return q.Distance(a) })
	d := b.Sub(a)
	c := far(func(q r3.Vector) float64 { return q.Sub(a).Cross(d).Norm() })
	n := d.Cross(c.Sub(a)).Normalize()
	e := far(func(q r3.Vector) float64 { return math.Abs(q.Sub(a).Dot(n)) })
	return math.Abs(e.Sub(a).Dot(n)) > reach
}
