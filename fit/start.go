package fit

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// starts returns the states to start from.
func (f *form) starts(c *cloud, h *hold, opt Options) ([]arc, error) {
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
	if h.axis {
		return []arc{coaxial(c, h)}, nil
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
		if h.direction {
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
		dirs := axisStarts(g.circleScore, dir[:], fineStep(val), cylinderAxes)
		if h.perpendicular != (r3.Vector{}) {
			dirs = perpendicularStarts(g.circleScore, h.perpendicular, cylinderAxes)
		}
		for _, w := range dirs {
			out = append(out, g.circleAbout(w))
		}
	case coneForm:
		if c.within(val[0]) {
			return none("plane", "a cone needs points off it")
		}
		dirs, round := []r3.Vector{h.w}, []r3.Vector{h.w}
		if !h.direction {
			dirs = axisStarts(g.coneScore, dir[:], fineStep(val), coneAxes)
			round = axisStarts(g.circleScore, dir[:], fineStep(val), coneCircles)
		}
		for _, w := range dirs {
			out = append(out, g.coneAbout(w))
		}
		for _, w := range round {
			at := g.circleAbout(w)
			for _, at.phi = range coneAngles {
				out = append(out, at)
			}
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

// startAt makes the state of a shape, with what is held in its place. False for a
// cone that opens away from the points.
func startAt(s Shape, c *cloud, h *hold) (arc, bool) {
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
		at := c.in(s.Point)
		if h.axis {
			at = h.on
		}
		return arcAt(at, h.direct(s.Axis), s.Radius/c.scale), true
	case Cone:
		apex, w := c.in(s.Apex), h.direct(s.Axis)
		z := -apex.Dot(w) // height of the centroid over the apex
		at := apex.Add(w.Mul(z))
		if h.axis {
			at = h.on
		}
		phi := s.HalfAngle.Radians()
		a := arcAt(at, w, z*math.Tan(phi))
		a.phi = phi
		return a, z > 0
	}
	return arc{}, false
}

// direct returns the direction held, with the sense of w, or w turned by as little as
// makes it perpendicular to what it must be.
func (h *hold) direct(w r3.Vector) r3.Vector {
	if h.direction {
		if h.w.Dot(w) < 0 {
			return h.w.Mul(-1)
		}
		return h.w
	}
	return geom.Unit(w.Sub(h.perpendicular.Mul(w.Dot(h.perpendicular))))
}

// coaxial is the state about a known axis, with the mean radius.
func coaxial(c *cloud, h *hold) arc {
	var n, sum float64
	for i := range c.x {
		g := 1.0
		if c.sw != nil {
			g = c.sw[i] * c.sw[i]
		}
		_, r, _ := polar(c.at(i).Sub(h.on), h.w)
		n, sum = n+g, sum+g*r
	}
	return arcAt(h.on, h.w, sum/n)
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

// race gives every start a few steps, and the best of them as many as they need, and
// returns the best; of cones one whose points are on one nappe, if there is one. nil
// where none comes to an end.
func race(f *form, h hold, starts []arc, c *cloud, maxIter int) (*round, solved) {
	type runner struct {
		m round
		s solved
	}
	field := make([]runner, len(starts))
	for i, a := range starts {
		field[i].m = round{form: f, cur: a, hold: h}
	}
	run := func(most int) {
		for i := range field {
			r := &field[i]
			iters := r.s.iters
			r.s = solve(&r.m, c, most)
			r.s.iters += iters
			if math.IsNaN(r.s.f) {
				r.s.f = math.Inf(1)
			}
		}
		slices.SortStableFunc(field, func(a, b runner) int { return cmp.Compare(a.s.f, b.s.f) })
	}
	if len(field) > finalists {
		run(heat)
		field = field[:finalists]
	}
	run(maxIter)
	best := -1
	for i := range field {
		if math.IsInf(field[i].s.f, 1) {
			break
		}
		if f != coneForm || field[i].m.oneNappe(c) {
			best = i
			break
		}
		if best < 0 {
			best = i
		}
	}
	if best < 0 {
		return nil, solved{}
	}
	return &field[best].m, field[best].s
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
func axisStarts(score func(w r3.Vector) float64, extra []r3.Vector, fine float64, most int) []r3.Vector {
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
	return directions(apart(low, sameAxis, most))
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

func directions(all []candidate) (out []r3.Vector) {
	for _, g := range all {
		out = append(out, g.w)
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

// perpendicularStarts are the directions perpendicular to d, on half a turn in steps of
// 1.5 degrees, at which score is least, best first.
func perpendicularStarts(score func(w r3.Vector) float64, d r3.Vector, most int) []r3.Vector {
	e1, e2 := geom.Basis(d)
	var ring []candidate
	for i := range perpendicularSteps {
		s, c := math.Sincos(math.Pi * float64(i) / perpendicularSteps)
		w := e1.Mul(c).Add(e2.Mul(s))
		ring = append(ring, candidate{w, score(w)})
	}
	return directions(apart(ring, latticeApart, most))
}
