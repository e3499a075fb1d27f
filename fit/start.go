package fit

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/floats"

	"spotface/mesh/geom"
)

// starts returns the states to start from.
func (f *form) starts(c *cloud, opt Options) (out []arc, err error) {
	kinds := map[*form]Kind{cylinderForm: KindCylinder, alongForm: KindCylinder, sphereForm: KindSphere, coneForm: KindCone}
	if kind, ok := kinds[f]; ok {
		if s, err := opt.start(kind); s != nil || err != nil {
			a, ok := startAt(s, c, opt.Direction)
			if err == nil && !ok {
				err = &InputError{f.name, -1, s.anchor(), "the start opens away from the points"}
			}
			return []arc{a}, err
		}
	}
	g := momentsOf(c)
	_, dir, val := principal(c)
	w, held := opt.Direction, opt.Direction != (r3.Vector{})
	if f == circle2DForm {
		w = r3.Vector{Z: 1}
	}
	line, plane := false, f != circleForm && c.within(val[0])
	switch f {
	case circleForm, cylinderForm:
		line = c.within(val[1])
	case circle2DForm, alongForm:
		line, plane = c.within(c.offLine(g.lineAbout(w))), false
	}
	switch {
	case line:
		return nil, degenerate(f.name, "all points are on one line; a "+f.name+" needs points beside it")
	case plane:
		return nil, degenerate(f.name, "all points are on one plane; a "+f.name+" needs points off it")
	}
	switch f {
	case circle2DForm, alongForm:
		out = []arc{g.circleAbout(w)}
	case circleForm:
		out = []arc{g.circleAbout(dir[0])}
	case sphereForm:
		out = []arc{g.sphere()}
	case cylinderForm:
		for _, w := range g.axes(false, dir[:], cylinderAxes) {
			out = append(out, g.circleAbout(w))
		}
	case coneForm:
		dirs := []r3.Vector{w}
		if !held {
			dirs = g.axes(true, dir[:], coneAxes)
		}
		for _, w := range dirs {
			out = append(out, g.coneAbout(w))
		}
	}
	if opt.Radius == 0 {
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

// startAt makes the state of a shape, with the axis held in its place. False for a
// cone that opens away from the points.
func startAt(s Shape, c *cloud, held r3.Vector) (arc, bool) {
	direct := func(w r3.Vector) r3.Vector {
		if held == (r3.Vector{}) {
			return geom.Unit(w)
		}
		return held.Mul(math.Copysign(1, held.Dot(w)))
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
func race(f *form, starts []arc, c *cloud, opt Options) (best *round, end solved) {
	for _, a := range starts {
		m := &round{form: f, cur: a, opt: opt}
		if s := solve(m, c, opt); s.f < math.Inf(1) && (best == nil || s.f < end.f) {
			best, end = m, s
		}
	}
	return best, end
}

// axes returns the axes, apart from each other, about which a cylinder or cone would leave
// the least mean square distance, best first: of a Fibonacci lattice over half the sphere
// (Swinbank & Purser, Q. J. R. Meteorol. Soc. 132 (2006) 1769–1793) and the directions given. Each takes a few hundred operations
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

// moments are the weighted means of the monomials x, y, z, xx, xy, xz, yy, yz, zz of
// centred points, and their covariances: enough to say, for any direction of an axis
// and without another look at the points, how well a circle, cylinder or cone about it
// would fit.
type moments struct {
	mean [9]float64
	cov  [9][9]float64
}

func momentsOf(c *cloud) (g moments) {
	each := func(f func(v [9]float64, w float64)) {
		for i := range c.x {
			x, y, z := c.x[i], c.y[i], c.z[i]
			f([9]float64{x, y, z, x * x, x * y, x * z, y * y, y * z, z * z}, c.weight(i))
		}
	}
	var weight float64
	each(func(v [9]float64, w float64) {
		weight += w
		for a, x := range v {
			g.mean[a] += w * x
		}
	})
	for a := range g.mean {
		g.mean[a] /= weight
	}
	each(func(v [9]float64, w float64) {
		for a := range v {
			v[a] -= g.mean[a]
		}
		for a, x := range v {
			for b := range a + 1 {
				g.cov[a][b] += w / weight * x * v[b]
			}
		}
	})
	for a := range 9 {
		for b := range a {
			g.cov[b][a] = g.cov[a][b]
		}
	}
	return g
}

// across is the covariance of the points' coordinates along two directions.
func (g *moments) across(a, b r3.Vector) float64 {
	c := &g.cov
	return a.X*(b.X*c[0][0]+b.Y*c[0][1]+b.Z*c[0][2]) +
		a.Y*(b.X*c[1][0]+b.Y*c[1][1]+b.Z*c[1][2]) +
		a.Z*(b.X*c[2][0]+b.Y*c[2][1]+b.Z*c[2][2])
}

// form2 is a form of second degree over the monomials xx, xy, xz, yy, yz, zz.
type form2 = [6]float64

// squares are the squares of the distance from the axis through the centroid along the
// unit vector w, and of the height along it.
func squares(w r3.Vector) (across, along form2) {
	along = form2{w.X * w.X, 2 * w.X * w.Y, 2 * w.X * w.Z, w.Y * w.Y, 2 * w.Y * w.Z, w.Z * w.Z}
	return form2{1 - along[0], -along[1], -along[2], 1 - along[3], -along[4], 1 - along[5]}, along
}

// quadric is the scatter of some forms q, each as q/2√(mean q), and of coordinates along
// some directions. Its least eigenvalue is the mean square distance of the best
// quadric Σ A q + b·p + D = 0 by Taubin's method: least mean of F² at mean of |∇F|² one.
type quadric struct {
	m     [maxParams * maxParams]float64 // n×n, by rows
	forms int
	dirs  [3]r3.Vector
	n     int // forms and directions
	mean  [2]float64
}

func (g *moments) quadric(forms []form2, dirs ...r3.Vector) (q quadric) {
	q.forms, q.n = len(forms), len(forms)+copy(q.dirs[:], dirs)
	set := func(i, j int, v float64) { q.m[i*q.n+j], q.m[j*q.n+i] = v, v }
	var root [2]float64
	for i := range forms {
		var t [9]float64 // covariances with all monomials
		for k, v := range forms[i] {
			q.mean[i] += v * g.mean[k+3]
			for j := range t {
				t[j] += v * g.cov[k+3][j]
			}
		}
		root[i] = 2 * math.Sqrt(q.mean[i])
		for j := range i + 1 {
			set(i, j, floats.Dot(forms[j][:], t[3:])/(root[i]*root[j]))
		}
		for k, d := range dirs {
			set(i, q.forms+k, (d.X*t[0]+d.Y*t[1]+d.Z*t[2])/root[i])
		}
	}
	for k, d := range dirs {
		for l := range k + 1 {
			set(q.forms+k, q.forms+l, g.across(d, dirs[l]))
		}
	}
	return q
}

// best returns the coefficients of the best quadric, the eigenvector of the least
// eigenvalue, and that.
func (q *quadric) best() (a [2]float64, b r3.Vector, d, least float64) {
	n := q.n
	m, v := q.m, q.m
	var val [maxParams]float64
	geom.EigenSym(m[:n*n], val[:n], v[:n*n])
	for i := range q.forms {
		a[i] = v[i] / (2 * math.Sqrt(q.mean[i]))
		d -= a[i] * q.mean[i]
	}
	for k := range n - q.forms {
		b = b.Add(q.dirs[k].Mul(v[q.forms+k]))
	}
	return a, b, d, val[0]
}

// about is the quadric of revolution A ρ² + C h² + b·v + B h + D = 0 about the direction
// w, v across it and h along it: a cylinder, a cone and a plane across w are among these.
// Without C and B it is a cylinder.
func (g *moments) about(w r3.Vector, cone bool) quadric {
	across, along := squares(w)
	e1, e2 := geom.Basis(w)
	if cone {
		return g.quadric([]form2{across, along}, e1, e2, w)
	}
	return g.quadric([]form2{across}, e1, e2)
}

// sphere is Taubin's sphere.
func (g *moments) sphere() arc {
	q := g.quadric([]form2{{0: 1, 3: 1, 5: 1}}, r3.Vector{X: 1}, r3.Vector{Y: 1}, r3.Vector{Z: 1})
	a, b, d, _ := q.best()
	w := r3.Vector{X: 1}
	if b != (r3.Vector{}) {
		_, w = geom.Basis(geom.Unit(b))
	}
	return arcOf(a[0], b, d, w)
}

// circleAbout is Taubin's circle about an axis along w.
func (g *moments) circleAbout(w r3.Vector) arc {
	q := g.about(w, false)
	a, b, d, _ := q.best()
	return arcOf(a[0], b, d, w)
}

// coneAbout is Taubin's quadric of revolution about w: the section at the centroid's
// height, with the angle there.
func (g *moments) coneAbout(w r3.Vector) arc {
	q := g.about(w, true)
	a, b, d, _ := q.best()
	bh := b.Dot(w)
	b = b.Sub(w.Mul(bh))
	out := arcOf(a[0], b, d, w)
	// On the surface near the anchor, going along h at constant direction from
	// the axis: gradient along h is bh, outward gradient is -(...)·n = g.
	if a[0] < 0 {
		bh = -bh
	}
	if grad := math.Sqrt(max(b.Norm2()-4*a[0]*d, 0)); grad > 0 {
		out.phi = math.Atan(-bh / grad)
	}
	return out
}

// arcOf makes an arc about w from the coefficients of A|v|² + b·v + D = 0.
func arcOf(a float64, b r3.Vector, d float64, w r3.Vector) arc {
	if a < 0 {
		a, b, d = -a, b.Mul(-1), -d
	}
	// On the ray from the origin along n0 = b/|b|: a s² + |b| s + d = 0; the
	// centre is at -b/2a, the gradient at the near root has length g.
	nb := b.Norm()
	g := math.Sqrt(max(nb*nb-4*a*d, 0))
	var n0 r3.Vector
	if nb > onCentre*g {
		n0 = geom.Unit(b)
	} else {
		n0, _ = geom.Basis(w)
	}
	n0 = geom.Unit(n0.Sub(w.Mul(n0.Dot(w))))
	if g == 0 {
		return flatAt(r3.Vector{}, n0.Mul(-1), w)
	}
	s := -2 * d / (nb + g)
	out := flatAt(n0.Mul(s), n0.Mul(-1), w)
	out.k = 2 * a / g
	return out
}

// lineAbout is the best line in the plane across w as an arc without curvature.
func (g *moments) lineAbout(w r3.Vector) arc {
	e1, e2 := geom.Basis(w)
	sin, cos := math.Sincos(math.Atan2(2*g.across(e1, e2), g.across(e1, e1)-g.across(e2, e2)) / 2)
	return flatAt(r3.Vector{}, e2.Mul(cos).Sub(e1.Mul(sin)), w)
}
