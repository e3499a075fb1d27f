package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// SphereFit is a fitted sphere.
type SphereFit struct {
	Sphere
	Cov       [4][4]float64 // (x, y, z, r), mm²
	Residuals ResidualStats
	Iters     int
}

// SphereTo fits a sphere to pts, mm, by least squares of the radial distance.
// It needs 4 points that are not on one plane. Errors: *TooFewError,
// *InputError, ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: Taubin's algebraic fit; then Levenberg–Marquardt on anchor, direction
// and curvature as for a circle, see arc.
func SphereTo(pts []r3.Vector, opt Options) (SphereFit, error) { return sphereFit(nil, pts, opt) }

// sphereFit is SphereTo from a start, or from none.
func sphereFit(start *Sphere, pts []r3.Vector, opt Options) (SphereFit, error) {
	c, err := columns("sphere", pts, opt, 4)
	if err != nil {
		return SphereFit{}, err
	}
	var mom moments
	mom.add(c)
	_, dir, val := principal(c.sample(1024))
	if g := c.grain(); val[0] <= 64*g*g {
		return SphereFit{}, degenerate("sphere", "all points are on one plane; a sphere needs points off it")
	}
	a, b, d := mom.taubinSphere()
	starts := []arc{sphereArc(a, b, d)}
	if math.Abs(starts[0].k)*math.Sqrt(val[2]) < 0.3 {
		starts = append(starts, arc{n: dir[0]})
	}
	if start != nil {
		if !(start.Radius > 0) || math.IsInf(start.Radius, 0) || !finite(start.Centre) {
			return SphereFit{}, &InputError{"sphere", -1, start.Centre, "the start needs a centre and a radius above zero"}
		}
		starts = []arc{sphereAt(c.in(start.Centre), start.Radius/c.scale)}
	}
	starts = c.holdRadius(starts, opt.Radius)
	small := c.sample(1024)
	best := math.Inf(1)
	m := &sphereModel{}
	var s solved
	for _, st := range starts {
		t := &sphereModel{cur: st, holdR: opt.Radius > 0}
		if r := solve(t, small, opt.MaxIter); r.f < best {
			best, s, m = r.f, r, t
		}
	}
	if math.IsInf(best, 1) {
		return SphereFit{}, degenerate("sphere", "no sphere near the points")
	}
	if small != c {
		t := solve(m, c, opt.MaxIter)
		t.iters += s.iters
		s = t
	}
	if m.cur.k < 0 {
		m.cur.k, m.cur.n = -m.cur.k, m.cur.n.Mul(-1)
	}
	var zero [maxParams]float64
	m.try(&zero)
	w := newCrew(m, c)
	defer w.close()
	w.sum(&s.sums)
	sum, cov, cond, ok := finish(m, c, &s, 4)
	out := SphereFit{Residuals: sum, Iters: s.iters}
	if !ok || cond > singular {
		return out, degenerate("sphere", "the points fit more than one sphere; it needs points off one circle")
	}
	k := m.cur.k
	if k == 0 {
		return out, &FlatError{"sphere", 0, math.Sqrt(cov[3][3]) / c.scale}
	}
	r := 1 / k
	out.Centre = c.back(m.cur.at.Add(m.cur.n.Mul(r)))
	out.Radius = r * c.scale
	n, e1, e2 := m.cur.n, m.e1, m.e2
	var to matrix
	for i, v := range [3][3]float64{{n.X, e1.X, e2.X}, {n.Y, e1.Y, e2.Y}, {n.Z, e1.Z, e2.Z}} {
		to[i] = [maxParams]float64{v[0], r * v[1], r * v[2], -r * r * v[0]}
	}
	to[3] = [maxParams]float64{0, 0, 0, -r * r}
	full := propagate(&to, &cov, 4, 4)
	for i := range 4 {
		for j := range 4 {
			out.Cov[i][j] = full[i][j] * c.scale * c.scale
		}
	}
	if opt.Radius == 0 {
		if err := flat("sphere", k, math.Sqrt(cov[3][3]), c.scale); err != nil {
			return out, err
		}
	}
	if s.converged {
		return out, nil
	}
	return out, noConvergence("sphere", s.iters)
}

// sphereArc makes a state from the coefficients of A|p|² + b·p + D = 0.
func sphereArc(a float64, b r3.Vector, d float64) arc {
	n := b
	if n.Norm() == 0 {
		n = r3.Vector{Z: 1}
	}
	_, w := Frame(unit(n))
	return arcOf(a, b, d, w)
}

// sphereAt makes the state of a sphere about the origin, which is near the points.
func sphereAt(centre r3.Vector, radius float64) arc {
	a := arc{k: 1 / radius, n: r3.Vector{Z: 1}}
	if centre.Norm() > 1e-6*radius {
		a.n = unit(centre)
	}
	a.at = centre.Sub(a.n.Mul(radius))
	return a
}

// sphereModel uses at, n and k of an arc, and the frame e1, e2 of n. Local
// parameters: shift along n, turns of n toward e1 and e2, curvature. With
// q = (p - at)·n and t the part of p - at across n, as for arc:
//
//	f = (k|p - at|² - 2q)/(1 + S)    ∂f/∂ωi = -ti/S
type sphereModel struct {
	cur, next arc
	e1, e2    r3.Vector // of next.n
	holdR     bool
}

func (m *sphereModel) taken() (h held) {
	if m.holdR {
		h.take([maxParams]float64{3: 1})
	}
	return h
}

func (m *sphereModel) params() int   { return 4 }
func (m *sphereModel) perPoint() int { return 1 }
func (m *sphereModel) accept()       { m.cur = m.next }

func (m *sphereModel) try(d *[maxParams]float64) bool {
	e1, e2 := Frame(m.cur.n)
	m.next = m.cur
	m.next.at = m.cur.at.Add(m.cur.n.Mul(d[0]))
	m.next.n = unit(m.cur.n.Add(e1.Mul(d[1])).Add(e2.Mul(d[2])))
	m.next.k += d[3]
	m.e1, m.e2 = Frame(m.next.n)
	return math.Abs(m.next.k) < sharpest
}

func (m *sphereModel) rows(c *cloud, lo, hi int, b *block) {
	a := &m.next
	k := a.k
	round, r2 := a.round()
	at, nv, e1, e2 := a.at, a.n, m.e1, m.e2
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	y, z = y[:n], z[:n]
	f, j0, j1, j2, j3 := b.f[:n], b.j[0][:n], b.j[1][:n], b.j[2][:n], b.j[3][:n]
	for i := range n {
		dx, dy, dz := x[i]-at.X, y[i]-at.Y, z[i]-at.Z
		q := dx*nv.X + dy*nv.Y + dz*nv.Z
		t1 := dx*e1.X + dy*e1.Y + dz*e1.Z
		t2 := dx*e2.X + dy*e2.Y + dz*e2.Z
		tt := t1*t1 + t2*t2
		u := 1 - k*q
		s := math.Sqrt(u*u + k*k*tt + 1e-300)
		is := 1 / s
		f[i] = (k*(q*q+tt) - 2*q) / (1 + s)
		cs := u * is
		j0[i] = cs
		j1[i] = -t1 * is
		j2[i] = -t2 * is
		if round {
			j3[i] = (1 - cs) * r2
		} else {
			j3[i] = tt * is * is / (1 + cs)
		}
	}
}
