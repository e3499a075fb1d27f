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
		out = g.arcsAbout(w)
	case circleForm:
		if c.within(val[1]) {
			return none("line", "a circle needs points beside it")
		}
		// In the best plane; where the points hug a line, so that the plane is not
		// sure, also in planes turned about it.
		turns := 1
		if val[0] > huggingLine*val[1] {
			turns = turnedPlanes
		}
		for i := range turns {
			sin, cos := math.Sincos(math.Pi * float64(i) / float64(turns))
			out = append(out, g.arcsAbout(dir[0].Mul(cos).Add(dir[1].Mul(sin)))...)
		}
	case sphereForm:
		if c.within(val[0]) {
			return none("plane", "a sphere needs points off it")
		}
		out = []arc{g.sphere()}
		if math.Abs(out[0].k)*math.Sqrt(val[2]) < shallowSphere {
			out = append(out, flatAt(r3.Vector{}, dir[0], dir[2]))
		}
	case cylinderForm:
		if c.within(val[1]) {
			return none("line", "a cylinder needs points beside it")
		}
		if c.within(val[0]) {
			return none("plane", "a cylinder needs points off it")
		}
		for _, w := range axisStarts(g.circleScore, dir[:], fineStep(val), cylinderAxes) {
			out = append(out, g.circleAbout(w))
		}
	case coneForm:
		if c.within(val[0]) {
			return none("plane", "a cone needs points off it")
		}
		dirs := []r3.Vector{h.w}
		if h.w == (r3.Vector{}) {
			dirs = axisStarts(g.coneScore, dir[:], fineStep(val), coneAxes)
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
		if c.sw == nil || c.sw[i] > 0 {
			d := c.at(i).Dot(a.n)
			ms += d * d / float64(c.n)
		}
	}
	return ms
}

// race solves from every start and returns the best; of cones one whose points are on one
// nappe, if there is one. nil where none comes to an end.
func race(f *form, h hold, starts []arc, c *cloud, maxIter int) (best *round, end solved) {
	onOne := false // of best
	for _, a := range starts {
		m := &round{form: f, cur: a, hold: h}
		s := solve(m, c, maxIter)
		if math.IsNaN(s.f) || math.IsInf(s.f, 1) {
			continue
		}
		one := f != coneForm || m.oneNappe(c)
		if best == nil || one && !onOne || one == onOne && s.f < end.f {
			best, end, onOne = m, s, one
		}
	}
	return best, end
}

// oneNappe reports whether the points lie on one nappe, not on both.
func (m *round) oneNappe(c *cloud) bool {
	t := *m
	t.normalise(Options{})
	if t.cur.k == 0 {
		return false
	}
	apex := t.cur.centre().Sub(t.cur.w.Mul(math.Cos(t.cur.phi) / math.Sin(t.cur.phi) / t.cur.k))
	if !geom.Finite(apex) {
		return true // as good as a cylinder
	}
	behind := 0
	for i := range c.x {
		if c.at(i).Sub(apex).Dot(t.cur.w) < 0 {
			behind++
		}
	}
	return behind*otherNappe <= len(c.x)
}

// candidate is a direction of an axis and its score: the mean square distance that a
// surface about it would leave, from the moments alone.
type candidate struct {
	w     r3.Vector
	score float64
}

// axisStarts returns directions at which score is least, best first: the best of a
// Fibonacci lattice over half the sphere (Swinbank & Purser, Q. J. R. Meteorol. Soc.
// 132 (2006) 1769–1793) and the directions given, each walked downhill, the latter also
// in steps of fine. A score is a few hundred operations whatever the number of points,
// so trying them all is cheap and misses no valley wider than the lattice; valleys that
// are narrower belong to features much longer than wide, whose axis is a principal
// direction.
func axisStarts(score func(w r3.Vector) float64, extra []r3.Vector, fine float64, most int) (out []r3.Vector) {
	const golden = 2.399963229728653 // π(3 - √5)
	var low []candidate
	for i := range axisGrid {
		z := (float64(i) + 0.5) / axisGrid
		r := math.Sqrt(1 - z*z)
		s, c := math.Sincos(golden * float64(i))
		w := r3.Vector{X: r * c, Y: r * s, Z: z}
		low = append(low, candidate{w, score(w)})
	}
	for _, w := range extra {
		low = append(low, candidate{w, score(w)})
	}
	low = apart(low, latticeApart, most)
	for i := range low {
		low[i] = descend(score, low[i], latticeStep)
	}
	for _, w := range extra {
		low = append(low, descend(score, candidate{w, score(w)}, fine))
	}
	for _, g := range apart(low, sameAxis, most) {
		out = append(out, g.w)
	}
	return out
}

// apart returns at most so many of the candidates, best first, that are an angle, rad,
// apart.
func apart(all []candidate, angle float64, most int) (out []candidate) {
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(a.score, b.score) })
	for _, g := range all {
		near := slices.ContainsFunc(out, func(o candidate) bool { return o.w.Cross(g.w).Norm() < angle })
		if !near && len(out) < most {
			out = append(out, g)
		}
	}
	return out
}

// fineStep is how far, in radians, the axis of a long narrow strip may turn
// before it leaves the strip.
func fineStep(val [3]float64) float64 { return min(math.Sqrt(val[0]/val[2])/2, fineMost) }

// descend walks a direction downhill by a compass search (Kolda, Lewis &
// Torczon, SIAM Review 45 (2003) 385–482, section 1.1).
func descend(score func(w r3.Vector) float64, g candidate, step float64) candidate {
	last := min(step/walkParts, walkEnd)
	for moves := 0; step > last && moves < walkMoves; moves++ {
		e1, e2 := geom.Basis(g.w)
		moved := false
		for _, d := range [4]r3.Vector{e1, e2, e1.Mul(-1), e2.Mul(-1)} {
			w := geom.Unit(g.w.Add(d.Mul(step)))
			if v := score(w); v < g.score {
				g, moved = candidate{w, v}, true
				break
			}
		}
		if !moved {
			step /= 2
		}
	}
	return g
}
