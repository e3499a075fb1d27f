package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// CircleFit is a fitted circle in space.
type CircleFit struct {
	Circle
	// Cov is of (u, v, w, a, b, r): centre along the two directions of
	// Frame(Normal) and along Normal, mm; tilts of Normal toward the two, rad;
	// radius, mm.
	Cov       [6][6]float64
	Residuals ResidualStats
	Iters     int
}

// CircleTo fits a circle in space to pts, mm, by least squares of the true
// distance: radial and axial together. It needs 3 points that are not on one
// line; the largest component of Normal is positive. Errors: *TooFewError,
// *InputError, ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: the best plane, and in it the best circle; then Levenberg–Marquardt on
// anchor, frame and curvature, see arc.
func CircleTo(pts []r3.Vector, opt Options) (CircleFit, error) {
	c, err := columns("circle", pts, opt, 3)
	if err != nil {
		return CircleFit{}, err
	}
	_, dir, val := principal(c)
	if g := c.grain(); val[1] <= 64*g*g {
		return CircleFit{}, degenerate("circle", "all points are on one line; the radius cannot be told from a line")
	}
	m, s := circleStart(c, dir, val, opt)
	if m == nil {
		return CircleFit{}, degenerate("circle", "no circle near the points")
	}
	m.cur = m.cur.outward()
	if orient(m.cur.w) != m.cur.w {
		m.cur.w, m.cur.t = m.cur.w.Mul(-1), m.cur.t.Mul(-1)
	}
	m.next = m.cur
	w := newCrew(m, c)
	defer w.close()
	w.sum(&s.sums)
	sum, cov, cond, ok := finish(m, c, &s, 6)
	out := CircleFit{Residuals: sum, Iters: s.iters}
	if !ok || cond > singular {
		return out, degenerate("circle", "fewer than three distinct points")
	}
	a := m.cur
	if a.k == 0 {
		return out, &FlatError{"circle", 0, math.Sqrt(cov[3][3]) / c.scale}
	}
	r := 1 / a.k
	out.Centre, out.Normal, out.Radius = c.back(a.centre()), a.w, r*c.scale
	to := a.circle3Map()
	full := propagate(&to, &cov, 6, 6)
	unit := [6]float64{c.scale, c.scale, c.scale, 1, 1, c.scale}
	for i := range 6 {
		for j := range 6 {
			out.Cov[i][j] = full[i][j] * unit[i] * unit[j]
		}
	}
	if opt.Radius == 0 {
		if err := flat("circle", a.k, math.Sqrt(cov[3][3]), c.scale); err != nil {
			return out, err
		}
	}
	if s.converged {
		return out, nil
	}
	return out, noConvergence("circle", s.iters)
}

// circle3Map maps (δ, η, ω, k, α, β) to CircleFit.Cov's parameters.
func (a arc) circle3Map() (m matrix) {
	r := 1 / a.k
	c, s := a.angles()
	m[0] = [maxParams]float64{c, 0, s * r, -c * r * r, 0, 0}
	m[1] = [maxParams]float64{-s, 0, c * r, s * r * r, 0, 0}
	m[2] = [maxParams]float64{0, 1, 0, 0, -r, 0}
	m[3] = [maxParams]float64{0, 0, 0, 0, c, s}
	m[4] = [maxParams]float64{0, 0, 0, 0, -s, c}
	m[5] = [maxParams]float64{0, 0, 0, -r * r, 0, 0}
	return m
}

// circleStart solves from the circle in the best plane; where the points hug a
// line, so that the plane is not sure, also from planes turned about it.
func circleStart(c *cloud, dir [3]r3.Vector, val [3]float64, opt Options) (*circleModel, solved) {
	small := c.sample(1024)
	turns := 1
	if val[0] > 0.05*val[1] {
		turns = 6
	}
	best := math.Inf(1)
	var m *circleModel
	var s solved
	for i := range turns {
		sin, cos := math.Sincos(math.Pi * float64(i) / float64(turns))
		w := dir[0].Mul(cos).Add(dir[1].Mul(sin))
		u := dir[1].Mul(cos).Sub(dir[0].Mul(sin))
		flatC := small.along(u, dir[2].Mul(-1), w)
		a, _, _ := circleFlat("circle", flatC, opt)
		t := &circleModel{holdR: opt.Radius > 0}
		t.cur = arc{k: a.k, w: w, n: u.Mul(a.n.X).Sub(dir[2].Mul(a.n.Y)), at: u.Mul(a.at.X).Sub(dir[2].Mul(a.at.Y))}
		t.cur.n = unit(t.cur.n)
		t.cur.t = w.Cross(t.cur.n)
		if r := solve(t, small, opt.MaxIter); r.f < best {
			best, m, s = r.f, t, r
		}
	}
	if m != nil && small != c {
		r := solve(m, c, opt.MaxIter)
		r.iters += s.iters
		s = r
	}
	return m, s
}

// along returns the points' components along three directions.
func (c *cloud) along(u, v, w r3.Vector) *cloud {
	n := len(c.x)
	buf := make([]float64, 3*n)
	o := &cloud{x: buf[:n:n], y: buf[n : 2*n : 2*n], z: buf[2*n:], sw: c.sw, n: c.n, scale: c.scale}
	for i := range n {
		p := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}
		o.x[i], o.y[i], o.z[i] = p.Dot(u), p.Dot(v), p.Dot(w)
	}
	return o
}

// circleModel is a circle in space. Local parameters: shifts δ along n and η
// along w, turn ω about w, curvature, tilts α and β of w toward n and t. Its
// two residuals a point are the radial one of arc and the axial h = (p - at)·w.
// A tilt α moves q by -αh and h by αq; β moves t by -βh and h by βt:
//
//	∂f/∂α = ch    ∂f/∂β = -sh    ∂h/∂η = -1    ∂h/∂α = q    ∂h/∂β = t
type circleModel struct {
	cur, next arc
	holdR     bool
}

func (m *circleModel) taken() (h held) {
	if m.holdR {
		h.take([maxParams]float64{3: 1})
	}
	return h
}

func (m *circleModel) params() int   { return 6 }
func (m *circleModel) perPoint() int { return 2 }
func (m *circleModel) accept()       { m.cur = m.next }

func (m *circleModel) try(d *[maxParams]float64) bool {
	m.next = m.cur.turn(m.cur.n.Mul(d[0]).Add(m.cur.w.Mul(d[1])), d[2], d[4], d[5])
	m.next.k += d[3]
	return math.Abs(m.next.k) < sharpest
}

func (m *circleModel) rows(c *cloud, lo, hi int, b *block) {
	a := &m.next
	k := a.k
	round, r2 := a.round()
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	for i := range n {
		dx, dy, dz := x[i]-a.at.X, y[i]-a.at.Y, z[i]-a.at.Z
		q := dx*a.n.X + dy*a.n.Y + dz*a.n.Z
		t := dx*a.t.X + dy*a.t.Y + dz*a.t.Z
		h := dx*a.w.X + dy*a.w.Y + dz*a.w.Z
		u, v := 1-k*q, k*t
		s := math.Sqrt(u*u + v*v + 1e-300)
		is := 1 / s
		cs, ts := u*is, t*is
		g := (1 - cs) * r2
		if !round {
			g = ts * ts / (1 + cs)
		}
		b.f[i] = (k*(q*q+t*t) - 2*q) / (1 + s)
		b.j[0][i], b.j[1][i], b.j[2][i], b.j[3][i] = cs, 0, -ts, g
		b.j[4][i], b.j[5][i] = cs*h, -v*is*h
		e := n + i
		b.f[e] = h
		b.j[0][e], b.j[1][e], b.j[2][e], b.j[3][e] = 0, -1, 0, 0
		b.j[4][e], b.j[5][e] = q, t
	}
}
