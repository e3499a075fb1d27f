package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// Circle2Fit is a circle fitted to points in a plane.
type Circle2Fit struct {
	X, Y, Radius float64
	Cov          [3][3]float64 // (x, y, r), mm²
	Residuals    ResidualStats
	Iters        int
}

// Circle2To fits a circle to points in a plane given as (x, y) pairs, mm, by
// least squares of the radial distance. It needs 3 points that are not on one
// line. Errors: *TooFewError, *InputError, ErrDegenerate, ErrNoConvergence, and
// *FlatError with the answer.
//
// Start: Taubin's algebraic fit (IEEE Trans. PAMI 13 (1991) 1115–1138) in the
// reduced form of Chernov, Circular and linear regression (2010), section 5.8;
// then Levenberg–Marquardt on anchor, direction and curvature, see arc.
func Circle2To(xy [][2]float64, opt Options) (Circle2Fit, error) {
	pts := make([]r3.Vector, len(xy))
	for i, p := range xy {
		pts[i] = r3.Vector{X: p[0], Y: p[1]}
	}
	c, err := columns("circle", pts, opt, 3)
	if err != nil {
		return Circle2Fit{}, err
	}
	a, s, err := circleFlat("circle", c, opt)
	if s == nil {
		return Circle2Fit{}, err
	}
	m := &circle2Model{cur: a, holdR: opt.Radius > 0}
	sum, cov, cond, ok := finish(m, c, s, 3)
	out := Circle2Fit{Residuals: sum, Iters: s.iters}
	if !ok || cond > singular {
		return out, degenerate("circle", "fewer than three distinct points")
	}
	if a.k == 0 {
		return out, &FlatError{"circle", 0, math.Sqrt(cov[2][2]) / c.scale}
	}
	to := a.circleMap()
	full := propagate(&to, &cov, 3, 3)
	if a.k < 0 {
		out.Residuals = sum.turnOver()
	}
	ctr := c.back(a.centre())
	out.X, out.Y, out.Radius = ctr.X, ctr.Y, c.scale/math.Abs(a.k)
	for i := range 3 {
		for j := range 3 {
			out.Cov[i][j] = full[i][j] * c.scale * c.scale
		}
	}
	if opt.Radius > 0 {
		return out, err
	}
	if f := flat("circle", a.k, math.Sqrt(cov[2][2]), c.scale); f != nil {
		err = f
	}
	return out, err
}

// circleMap maps (δ, ω, k) to (centre along e1, along e2, radius).
func (a arc) circleMap() (m matrix) {
	// Along n: δ - r²δk. Along t: rω. Radius: -r²δk.
	r := 1 / a.k
	c, s := a.angles() // e1 = c n + s t, e2 = -s n + c t
	m[0] = [maxParams]float64{c, s * r, -c * r * r}
	m[1] = [maxParams]float64{-s, c * r, s * r * r}
	m[2] = [maxParams]float64{0, 0, -r * r * math.Copysign(1, a.k)}
	return m
}

// circleFlat fits a circle to the x and y of c. s is nil where there is no
// answer at all.
func circleFlat(feature string, c *cloud, opt Options) (arc, *solved, error) {
	var mom moments
	mom.add(c)
	starts := []arc{mom.taubin2(), mom.line2()}
	if g := c.grain(); c.offLine(starts[1]) <= 64*g*g {
		return starts[1], nil, degenerate(feature, "all points are on one line; the radius cannot be told from a line")
	}
	if !mom.bent(starts[0]) {
		starts = starts[:1] // the second is for arcs lost in their noise
	}
	starts = c.holdRadius(starts, opt.Radius)
	best := math.Inf(1)
	var a arc
	var s solved
	small := c.sample(1024)
	for _, st := range starts {
		m := &circle2Model{cur: st, holdR: opt.Radius > 0}
		if t := solve(m, small, opt.MaxIter); t.f < best {
			best, a, s = t.f, m.cur, t
		}
	}
	if math.IsInf(best, 1) {
		return a, nil, degenerate(feature, "no circle near the points")
	}
	if small != c {
		m := &circle2Model{cur: a, holdR: opt.Radius > 0}
		t := solve(m, c, opt.MaxIter)
		t.iters += s.iters
		a, s = m.cur, t
	}
	if !s.converged {
		return a, &s, noConvergence(feature, s.iters)
	}
	return a, &s, nil
}

// holdRadius returns the starts with the radius, mm, if above zero, put in on
// either side.
func (c *cloud) holdRadius(starts []arc, radius float64) []arc {
	if !(radius > 0) {
		return starts
	}
	var out []arc
	for _, a := range starts {
		for _, k := range [2]float64{c.scale / radius, -c.scale / radius} {
			b := a
			b.k = k
			out = append(out, b)
		}
	}
	return out
}

// offLine is the mean square distance in the plane z = 0 from a line through
// the centroid.
func (c *cloud) offLine(a arc) (ms float64) {
	for i, x := range c.x {
		if c.sw == nil || c.sw[i] > 0 {
			d := x*a.n.X + c.y[i]*a.n.Y
			ms += d * d / float64(c.n)
		}
	}
	return ms
}

// circle2Model is a circle in the plane z = 0.
type circle2Model struct {
	cur, next arc
	holdR     bool
}

func (m *circle2Model) taken() (h held) {
	if m.holdR {
		h.take([maxParams]float64{2: 1})
	}
	return h
}

func (m *circle2Model) params() int   { return 3 }
func (m *circle2Model) perPoint() int { return 1 }
func (m *circle2Model) accept()       { m.cur = m.next }

func (m *circle2Model) try(d *[maxParams]float64) bool {
	m.next = m.cur.turn(m.cur.n.Mul(d[0]), d[1], 0, 0)
	m.next.k += d[2]
	return math.Abs(m.next.k) < sharpest
}

func (m *circle2Model) rows(c *cloud, lo, hi int, b *block) {
	a := &m.next
	k := a.k
	round, r2 := a.round()
	ax, ay := a.at.X, a.at.Y
	nx, ny := a.n.X, a.n.Y
	x, y := c.x[lo:hi], c.y[lo:hi]
	n := len(x)
	y = y[:n]
	f, j0, j1, j2 := b.f[:n], b.j[0][:n], b.j[1][:n], b.j[2][:n]
	for i := range n {
		dx, dy := x[i]-ax, y[i]-ay
		q := dx*nx + dy*ny
		t := dy*nx - dx*ny
		u, v := 1-k*q, k*t
		s := math.Sqrt(u*u + v*v + 1e-300)
		is := 1 / s
		f[i] = (k*(q*q+t*t) - 2*q) / (1 + s)
		cs, ts := u*is, t*is
		j0[i] = cs
		j1[i] = -ts
		if round {
			j2[i] = (1 - cs) * r2
		} else {
			j2[i] = ts * ts / (1 + cs)
		}
	}
}
