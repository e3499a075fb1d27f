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
	hold      hold
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
	if m.hold.radius {
		bits = 1 << m.form.k
	}
	if m.form == coneForm && m.hold.w != (r3.Vector{}) {
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
	h, need := hold{opt.Radius > 0, geom.Unit(opt.Direction)}, f.points
	if opt.Direction != (r3.Vector{}) {
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
	starts, err := f.starts(small, h, opt)
	if err != nil {
		return ended{}, err
	}
	m, s := race(f, h, starts, small, opt)
	if m == nil {
		return ended{}, degenerate(f.name, "no "+f.name+" near the points")
	}
	if small != c {
		m.normalise(opt)
		t := solve(m, c, opt)
		t.iters += s.iters
		s = t
	}
	return m.end(c, s, opt)
}

// normalise brings the accepted state to the form in which it is returned: k ≥ 0; an
// axis that nothing gives a sense has its largest component positive; a cone opens
// along w, and its section is that at the origin's height.
func (m *round) normalise(opt Options) {
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
		if opt.Start == nil && opt.Direction == (r3.Vector{}) && orient(a.w) != a.w {
			a.w, a.t = a.w.Mul(-1), a.t.Mul(-1)
		}
	}
	m.cur, m.next = a, a
}

// end makes the result of a model that was solved.
func (m *round) end(c *cloud, s solved, opt Options) (ended, error) {
	f := m.form
	was := m.cur
	m.normalise(opt)
	// Those of a known direction are parameters, too.
	out := ended{arc: m.cur, c: c, Result: Result{Iters: s.iters, params: max(f.params, f.points)}}
	if opt.ShapeOnly {
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
	out.Cov = propagate(&to, &cov, maxParams)
	toUnits(&out.Cov, f.lengths, c.scale)
	switch {
	case f == coneForm && out.phi <= 2*phiU:
		return out, &TaperError{out.phi, phiU}
	case opt.Radius == 0 && (out.k < flattest || out.k <= 2*kU):
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
