package fit

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// form is one of the shapes that are swept from an arc.
type form struct {
	name    string
	params  int  // of the Jacobian, in the order of round
	points  int  // needed where nothing is held
	k       int  // where among the parameters the curvature is
	lengths uint // bit i: parameter i of the result is a length
	missing string
}

var (
	circle2DForm = &form{"circle", 3, 3, 2, 0b111, "fewer than three distinct points"}
	circleForm   = &form{"circle", 6, 3, 3, 0b100111, "fewer than three distinct points"}
	sphereForm   = &form{"sphere", 4, 4, 3, 0b1111,
		"the points fit more than one sphere; it needs points off one circle"}
	cylinderForm = &form{"cylinder", 5, 5, 2, 0b10011,
		"the points fit more than one cylinder " +
			"(all on one plane, one circle or two lines?)"}
	alongForm = &form{"cylinder", 3, 5, 2, 0b10011,
		"fewer than three distinct points as seen along the axis"}
	coneForm = &form{"cone", 6, 6, 2, 0b000111,
		"the points fit more than one cone " +
			"(all on one plane or circle, or too short a part?)"}
)

// round is a circle, sphere, cylinder or cone under iteration. Its local parameters
// move the arc: shifts δ along n and η along w, turn ω about w, curvature k, tilts α and
// β of w toward n and t, half angle φ.
//
//	circle in a plane, cylinder along a known axis    δ ω k
//	cylinder, cone                                    δ ω k α β φ
//	circle in space                                   δ η ω k α β
//	sphere                                            δ, turns of n toward t and w, k
//
// With f of arc the radial distance, c and s its angle's cosine and sine, and
// h = (p - at)·w, a tilt α moves q by -αh and h by αq; β moves t by -βh and h by βt:
//
//	cylinder   f                        ∂f/∂α = ch    ∂f/∂β = -sh
//	circle     f and h, two residuals   ∂h/∂η = -1    ∂h/∂α = q    ∂h/∂β = t
//	cone       f cos φ - h sin φ        ∂/∂φ = -f sin φ - h cos φ
//	sphere     f, with t across n in both directions
type round struct {
	form      *form
	cur, next arc
	opt       Options
}

func (m *round) params() int { return m.form.params }

func (m *round) perPoint() int {
	if m.form == circleForm {
		return 2
	}
	return 1
}

func (m *round) accept() { m.cur = m.next }

func (m *round) held() (bits uint) {
	if m.opt.Radius > 0 {
		bits = 1 << m.form.k
	}
	if m.form == coneForm && m.opt.Direction != (r3.Vector{}) {
		bits |= 0b11000 // α β
	}
	return bits
}

func (m *round) try(d *[maxParams]float64) bool {
	a := &m.cur
	switch m.form {
	case circleForm:
		m.next = a.turn(a.n.Mul(d[0]).Add(a.w.Mul(d[1])), d[2], d[4], d[5])
	case sphereForm:
		m.next = a.turn(a.n.Mul(d[0]), d[1], -d[2], 0)
	default:
		m.next = a.turn(a.n.Mul(d[0]), d[1], d[3], d[4])
		m.next.phi += d[5]
	}
	m.next.k += d[m.form.k]
	return math.Abs(m.next.k) < sharpest
}

func (m *round) rows(c *cloud, lo, hi int, b *block) {
	switch m.form {
	case circleForm:
		m.next.circleRows(c, lo, hi, b)
	case sphereForm:
		m.next.sphereRows(c, lo, hi, b)
	case coneForm:
		m.next.coneRows(c, lo, hi, b)
	default: // two columns more than a circle in a plane needs
		m.next.cylinderRows(c, lo, hi, b)
	}
}

// ended is the end of a fit: the arc in scaled units with k > 0, and the result. known
// is false where there is no answer.
type ended struct {
	arc
	Result
	c     *cloud
	known bool
}

// fitRound fits one of the forms to pts.
func fitRound(f *form, pts []r3.Vector, opt Options) (ended, error) {
	err := opt.check(f.name, f != coneForm, f == cylinderForm || f == coneForm)
	if err != nil {
		return ended{}, err
	}
	need := f.points
	if opt.Direction = geom.Unit(opt.Direction); opt.Direction != (r3.Vector{}) {
		need -= 2
		if f == cylinderForm {
			f = alongForm
		}
	}
	c, err := columns(f.name, pts, opt, need)
	if err != nil {
		return ended{}, err
	}
	small := c
	if !opt.ShapeOnly {
		small = c.sample(startPoints)
	}
	starts, err := f.starts(small, opt)
	if err != nil {
		return ended{}, err
	}
	m, s := race(f, starts, small, opt)
	if m == nil {
		return ended{}, degenerate(f.name, "no "+f.name+" near the points")
	}
	if small != c {
		m.normalise()
		t := solve(m, c, opt)
		t.iters += s.iters
		s = t
	}
	return m.end(c, s)
}

// normalise brings the accepted state to the form in which it is returned: k ≥ 0; an
// axis that nothing gives a sense has its largest component positive; a cone opens
// along w, and its section is that at the origin's height.
func (m *round) normalise() {
	a := m.cur
	if a.k < 0 { // the same surface, outside and inside exchanged
		a.k, a.n, a.t, a.phi = -a.k, a.n.Mul(-1), a.t.Mul(-1), -a.phi
	}
	switch m.form {
	case coneForm:
		a.phi = math.Remainder(a.phi, math.Pi)
		if a.phi < 0 {
			a.w, a.t, a.phi = a.w.Mul(-1), a.t.Mul(-1), -a.phi
		}
		if z := -a.at.Dot(a.w); a.k > 0 {
			r := 1 / a.k
			if r2 := r + z*math.Tan(a.phi); r2 > leastSection*r {
				ctr := a.centre().Add(a.w.Mul(z))
				a.at, a.k = ctr.Sub(a.n.Mul(r2)), 1/r2
			}
		}
	case cylinderForm, circleForm:
		if m.opt.Start == nil && m.opt.Direction == (r3.Vector{}) && orient(a.w) != a.w {
			a.w, a.t = a.w.Mul(-1), a.t.Mul(-1)
		}
	}
	m.cur, m.next = a, a
}

// end makes the result of a model that was solved.
func (m *round) end(c *cloud, s solved) (ended, error) {
	f := m.form
	was := m.cur
	m.normalise()
	// Those of a known direction are parameters, too.
	out := ended{arc: m.cur, c: c, Result: Result{Iters: s.iters, params: max(f.params, f.points)}}
	if m.opt.ShapeOnly {
		if out.known = out.k > 0 && (f != coneForm || out.phi > 0); !out.known {
			return out, degenerate(f.name, f.missing)
		}
		return out, nil
	}
	if m.cur != was {
		newAccumulator(m, c).sum(&s.sums)
	}
	stats, cov, cond, ok := statistics(m, c, &s)
	out.Residuals = stats
	if !ok || cond > singular {
		return out, degenerate(f.name, f.missing)
	}
	kU, phiU := math.Sqrt(cov[f.k][f.k]), math.Sqrt(cov[5][5])
	if out.k == 0 {
		return out, &FlatError{f.name, 0, kU / c.scale}
	}
	if f == coneForm && out.phi == 0 {
		return out, &TaperError{0, phiU}
	}
	out.known = true
	to := out.parametersOf(f)
	for i := range to {
		if f.lengths>>i&1 != 0 {
			for k := range to[i] {
				to[i][k] *= c.scale
			}
		}
	}
	out.Cov = propagate(&to, &cov)
	switch {
	case f == coneForm && out.phi <= 2*phiU:
		return out, &TaperError{out.phi, phiU}
	case m.opt.Radius == 0 && (out.k < flattest || out.k <= 2*kU):
		return out, &FlatError{f.name, out.k / c.scale, kU / c.scale}
	case !s.converged:
		return out, noConvergence(f.name, s.iters)
	}
	return out, nil
}

// parametersOf maps the local parameters of a form to those that its covariance is of:
// Cov of CircleFit, SphereFit, ConeFit, CylinderFit and Circle2DFit.
func (a arc) parametersOf(f *form) (m matrix) {
	type row = [maxParams]float64
	r := 1 / a.k
	c, s := a.angles() // e1 = c n + s t, e2 = -s n + c t
	both := func(i, j int, n, t row) {
		for k := range maxParams {
			m[i][k], m[j][k] = c*n[k]+s*t[k], -s*n[k]+c*t[k]
		}
	}
	switch f {
	case circleForm: // δ η ω k α β
		both(0, 1, row{1, 0, 0, -r * r}, row{0, 0, r})
		both(3, 4, row{4: 1}, row{5: 1})
		m[2] = row{0, 1, 0, 0, -r, 0}
		m[5] = row{3: -r * r}
	case sphereForm:
		for i, v := range [3][3]float64{
			{a.n.X, a.t.X, a.w.X}, {a.n.Y, a.t.Y, a.w.Y}, {a.n.Z, a.t.Z, a.w.Z},
		} {
			m[i] = row{v[0], r * v[1], r * v[2], -r * r * v[0]}
		}
		m[3] = row{3: -r * r}
	case coneForm: // the apex is at + r n - h w
		sin, cos := math.Sincos(a.phi)
		h := r * cos / sin
		both(0, 1, row{1, 0, -r * r, -h}, row{0, r, 0, 0, -h})
		both(3, 4, row{3: 1}, row{4: 1})
		m[2] = row{0, 0, r * r * cos / sin, -r, 0, r / (sin * sin)}
		m[5] = row{5: 1}
	default:
		// The anchor, about which the tilts turn, is z above the foot of the centroid,
		// where the shifts are asked.
		z := a.at.Dot(a.w)
		both(0, 1, row{1, 0, -r * r, -z}, row{0, r, 0, 0, -z})
		both(2, 3, row{3: 1}, row{4: 1})
		m[4] = row{2: -r * r}
		if f == circle2DForm {
			m[2], m[3], m[4] = m[4], row{}, row{}
		}
	}
	return m
}

func (a *arc) cylinderRows(c *cloud, lo, hi int, b *block) {
	k := a.k
	round, r2 := a.round()
	at, nv, tv, wv := a.at, a.n, a.t, a.w
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	y, z = y[:n], z[:n]
	f, j0, j1, j2, j3, j4 := b.f[:n], b.j[0][:n], b.j[1][:n], b.j[2][:n], b.j[3][:n], b.j[4][:n]
	for i := range n {
		p := r3.Vector{X: x[i] - at.X, Y: y[i] - at.Y, Z: z[i] - at.Z}
		q, t, h := p.Dot(nv), p.Dot(tv), p.Dot(wv)
		u, v := 1-k*q, k*t
		s := math.Sqrt(u*u + v*v + notZero)
		is := 1 / s
		f[i] = (k*(q*q+t*t) - 2*q) / (1 + s)
		cs, ts := u*is, t*is
		j0[i], j1[i] = cs, -ts
		if round {
			j2[i] = (1 - cs) * r2
		} else {
			j2[i] = ts * ts / (1 + cs)
		}
		j3[i], j4[i] = cs*h, -v*is*h
	}
}

// coneRows makes those of the cylinder through the section, and tilts them.
func (a *arc) coneRows(c *cloud, lo, hi int, b *block) {
	a.cylinderRows(c, lo, hi, b)
	sin, cos := math.Sincos(a.phi)
	at, nv, tv, wv := a.at, a.n, a.t, a.w
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	y, z = y[:n], z[:n]
	f, j0, j1, j2 := b.f[:n], b.j[0][:n], b.j[1][:n], b.j[2][:n]
	j3, j4, j5 := b.j[3][:n], b.j[4][:n], b.j[5][:n]
	for i := range n {
		p := r3.Vector{X: x[i] - at.X, Y: y[i] - at.Y, Z: z[i] - at.Z}
		g, h := f[i], p.Dot(wv)
		f[i], j5[i] = g*cos-h*sin, -g*sin-h*cos
		j0[i] *= cos
		j1[i] *= cos
		j2[i] *= cos
		j3[i] = j3[i]*cos - p.Dot(nv)*sin
		j4[i] = j4[i]*cos - p.Dot(tv)*sin
	}
}

func (a *arc) sphereRows(c *cloud, lo, hi int, b *block) {
	k := a.k
	round, r2 := a.round()
	at, nv, e1, e2 := a.at, a.n, a.t, a.w
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	y, z = y[:n], z[:n]
	f, j0, j1, j2, j3 := b.f[:n], b.j[0][:n], b.j[1][:n], b.j[2][:n], b.j[3][:n]
	for i := range n {
		p := r3.Vector{X: x[i] - at.X, Y: y[i] - at.Y, Z: z[i] - at.Z}
		q, t1, t2 := p.Dot(nv), p.Dot(e1), p.Dot(e2)
		tt := t1*t1 + t2*t2
		u := 1 - k*q
		s := math.Sqrt(u*u + k*k*tt + notZero)
		is := 1 / s
		f[i] = (k*(q*q+tt) - 2*q) / (1 + s)
		cs := u * is
		j0[i], j1[i], j2[i] = cs, -t1*is, -t2*is
		if round {
			j3[i] = (1 - cs) * r2
		} else {
			j3[i] = tt * is * is / (1 + cs)
		}
	}
}

// circleRows makes those of the cylinder through the circle, and adds those of the
// height.
func (a *arc) circleRows(c *cloud, lo, hi int, b *block) {
	a.cylinderRows(c, lo, hi, b)
	n := hi - lo
	for i := range n {
		p := c.at(lo + i).Sub(a.at)
		e := n + i
		for k := 5; k > 1; k-- {
			b.j[k][i] = b.j[k-1][i]
		}
		b.j[1][i] = 0
		b.f[e] = p.Dot(a.w)
		b.j[0][e], b.j[1][e], b.j[2][e], b.j[3][e] = 0, -1, 0, 0
		b.j[4][e], b.j[5][e] = p.Dot(a.n), p.Dot(a.t)
	}
}

// arc is the state of a circle, and of what is swept from one: an anchor on
// the surface near the points, the unit vector n from it toward the centre, the
// curvature k = 1/r, and t, w so that n × t = w. The centre is at + n/k.
//
// Centre and radius run away together on a short arc and jump through infinity
// on a straight one; anchor, direction and curvature pass through k = 0 as
// through any other number (N. Chernov & C. Lesort, Least squares fitting of
// circles, J. Math. Imaging Vision 23 (2005) 239–252, on why a form without
// infinity is needed). With q = (p - at)·n and t = (p - at)·t:
//
//	S = √((1 - kq)² + (kt)²) = |p - centre|/r
//	f = |p - centre| - r = (k(q² + t²) - 2q) / (1 + S)
//	c = (1 - kq)/S,  s = kt/S      the angle at the centre, from the anchor
//	shift δ along n      ∂f/∂δ = c
//	turn ω about at      ∂f/∂ω = -t/S
//	curvature            ∂f/∂k = (1 - c)/k² = (t/S)²/(1 + c)
//
// The first forms of f and ∂f/∂k cancel for small k, the last ones do not.
type arc struct {
	at      r3.Vector
	n, t, w r3.Vector
	k       float64
	phi     float64 // half angle of the cone through it, rad; zero for other shapes
}

// round says which form of ∂f/∂k to use: (1 - c)/k² where the arc bends enough
// over points one unit wide that its cancellation, ε/k² of a value near one,
// stays far below what a Jacobian needs (the gradient takes it times the
// residual). One choice for all points: which side of the centre a point is on
// is a coin's toss to the branch predictor and doubled the time of a pass.
func (a *arc) round() (yes bool, r2 float64) { return math.Abs(a.k) > roundFrom, 1 / (a.k * a.k) }

// arcAt makes the state of a circle with the given centre, axis and radius
// about the origin, which is near the points.
func arcAt(centre, w r3.Vector, radius float64) arc {
	across := centre.Sub(w.Mul(centre.Dot(w)))
	a := arc{w: w, k: 1 / radius}
	d := across.Norm()
	if d > onAxis*radius {
		a.n = geom.Unit(across)
	} else {
		a.n, _ = geom.Basis(w)
	}
	a.n = geom.Unit(a.n.Sub(w.Mul(a.n.Dot(w))))
	a.t = w.Cross(a.n)
	a.at = centre.Sub(a.n.Mul(radius))
	return a
}

// flatAt makes the state of a line or plane through the anchor.
func flatAt(at, n, w r3.Vector) arc {
	a := arc{at: at, n: n, w: w}
	a.t = w.Cross(n)
	return a
}

// turn moves the anchor by d and turns the frame: n by omega toward t, w by
// alpha toward n and by beta toward t.
func (a arc) turn(d r3.Vector, omega, alpha, beta float64) arc {
	b := a
	b.at = a.at.Add(d)
	if alpha != 0 || beta != 0 {
		b.w = geom.Unit(a.w.Add(a.n.Mul(alpha)).Add(a.t.Mul(beta)))
	}
	n := a.n.Add(a.t.Mul(omega)).Sub(a.w.Mul(alpha))
	b.n = geom.Unit(n.Sub(b.w.Mul(n.Dot(b.w))))
	b.t = b.w.Cross(b.n)
	return b
}

// centre is at + n/k.
func (a arc) centre() r3.Vector { return a.at.Add(a.n.Mul(1 / a.k)) }

// orient returns v or -v, the one whose largest component is positive.
func orient(v r3.Vector) r3.Vector {
	m := v.X
	if math.Abs(v.Y) > math.Abs(m) {
		m = v.Y
	}
	if math.Abs(v.Z) > math.Abs(m) {
		m = v.Z
	}
	if m < 0 {
		return v.Mul(-1)
	}
	return v
}

// angles returns cos and sin of the angle from n to e1 about w, where e1, e2
// is the frame of w that covariances refer to.
func (a arc) angles() (c, s float64) {
	e1, _ := geom.Basis(a.w)
	return a.n.Dot(e1), a.t.Dot(e1)
}
