package fit

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// starts returns the states to start from.
func (f *form) starts(c *cloud, h hold, opt Options) ([]arc, error) {
	kinds := map[*form]Kind{cylinderForm: KindCylinder, alongForm: KindCylinder, sphereForm: KindSphere, coneForm: KindCone}
	if kind, ok := kinds[f]; ok {
		if s, err := opt.start(kind); s != nil || err != nil {
			a, ok := startAt(s, c, h)
			if err == nil && !ok {
				err = &InputError{f.name, -1, s.anchor(), "the start opens away from the points"}
			}
			return []arc{a}, err
		}
	}
	g := momentsOf(c)
	_, dir, val := principal(c)
	none := func(where, needs string) ([]arc, error) {
		return nil, degenerate(f.name, "all points are on one "+where+"; "+needs)
	}
	var out []arc
	switch f {
	case circle2DForm, alongForm:
		w := r3.Vector{Z: 1}
		if f == alongForm {
			w = h.w
		}
		if c.within(c.offLine(g.lineAbout(w))) {
			return none("line", "a circle needs points beside it")
		}
		out = []arc{g.circleAbout(w)}
	case circleForm:
		if c.within(val[1]) {
			return none("line", "a circle needs points beside it")
		}
		out = []arc{g.circleAbout(dir[0])}
	case sphereForm:
		if c.within(val[0]) {
			return none("plane", "a sphere needs points off it")
		}
		out = []arc{g.sphere()}
	case cylinderForm:
		if c.within(val[1]) {
			return none("line", "a cylinder needs points beside it")
		}
		if c.within(val[0]) {
			return none("plane", "a cylinder needs points off it")
		}
		for _, w := range g.axes(false, dir[:], cylinderAxes) {
			out = append(out, g.circleAbout(w))
		}
	case coneForm:
		if c.within(val[0]) {
			return none("plane", "a cone needs points off it")
		}
		dirs := []r3.Vector{h.w}
		if h.w == (r3.Vector{}) {
			dirs = g.axes(true, dir[:], coneAxes)
		}
		for _, w := range dirs {
			out = append(out, g.coneAbout(w))
		}
	}
	if !h.radius {
		return out, nil
	}
	// A known radius is put in on either side.
	var both []arc
	for _, a := range out {
		for _, a.k = range [2]float64{c.scale / opt.Radius, -c.scale / opt.Radius} {
			both = append(both, a)
		}
	}
	return both, nil
}

// hold is what a fit must not change.
type hold struct {
	radius bool
	w      r3.Vector // the direction of the axis; zero where that is free
}

// startAt makes the state of a shape, with what is held in its place. False for a
// cone that opens away from the points.
func startAt(s Shape, c *cloud, h hold) (arc, bool) {
	direct := func(w r3.Vector) r3.Vector {
		if h.w == (r3.Vector{}) {
			return geom.Unit(w)
		}
		return h.w.Mul(math.Copysign(1, h.w.Dot(w)))
	}
	switch s := s.(type) {
	case Sphere:
		ctr := c.in(s.Centre)
		n := r3.Vector{Z: 1}
		if r := s.Radius / c.scale; ctr.Norm() > onAxis*r {
			n = geom.Unit(ctr)
		}
		_, w := geom.Basis(n)
		a := flatAt(ctr.Sub(n.Mul(s.Radius/c.scale)), n, w)
		a.k = c.scale / s.Radius
		return a, true
	case Cylinder:
		return arcAt(c.in(s.Point), direct(s.Axis), s.Radius/c.scale), true
	case Cone:
		apex, w := c.in(s.Apex), direct(s.Axis)
		z := -apex.Dot(w) // height of the centroid over the apex
		phi := s.HalfAngle.Radians()
		a := arcAt(apex.Add(w.Mul(z)), w, z*math.Tan(phi))
		a.phi = phi
		return a, z > 0
	}
	return arc{}, false
}

// offLine is the mean square distance from a line across the arc's axis.
func (c *cloud) offLine(a arc) (ms float64) {
	for i := range c.x {
		if c.weight(i) > 0 {
			d := c.at(i).Dot(a.n)
			ms += d * d / float64(c.n)
		}
	}
	return ms
}

// race solves from every start and returns the best; nil where none comes to an end.
func race(f *form, h hold, starts []arc, c *cloud, opt Options) (best *round, end solved) {
	for _, a := range starts {
		m := &round{form: f, cur: a, hold: h}
		if s := solve(m, c, opt); s.f < math.Inf(1) && (best == nil || s.f < end.f) {
			best, end = m, s
		}
	}
	return best, end
}

// axes returns the axes, apart from each other, about which a cylinder or cone would leave
// the least mean square distance, best first: of a Fibonacci lattice over half the sphere (Swinbank & Purser, Q. J. R. Meteorol. Soc.
// 132 (2006) 1769–1793) and the directions given. Each takes a few hundred operations
// whatever the number of points, so trying them all is cheap and misses no valley wider
// than the lattice; valleys that are narrower belong to features much longer than wide,
// whose axis is a principal direction.
func (g *moments) axes(cone bool, extra []r3.Vector, most int) (out []r3.Vector) {
	const golden = 2.399963229728653 // π(3 - √5)
	all := slices.Clone(extra)
	for i := range axisGrid {
		z := (float64(i) + 0.5) / axisGrid
		r := math.Sqrt(1 - z*z)
		s, c := math.Sincos(golden * float64(i))
		all = append(all, r3.Vector{X: r * c, Y: r * s, Z: z})
	}
	type candidate struct {
		w     r3.Vector
		score float64
	}
	ranked := make([]candidate, len(all))
	for i, w := range all {
		q := g.about(w, cone)
		_, _, _, least := q.best()
		ranked[i] = candidate{w, least}
	}
	slices.SortStableFunc(ranked, func(a, b candidate) int { return cmp.Compare(a.score, b.score) })
	for _, g := range ranked {
		near := slices.ContainsFunc(out, func(w r3.Vector) bool { return w.Cross(g.w).Norm() < axesApart })
		if !near && len(out) < most {
			out = append(out, g.w)
		}
	}
	return out
}
