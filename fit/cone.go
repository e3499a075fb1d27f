package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// ConeFit is a fitted cone.
type ConeFit struct {
	Cone
	// Cov is of (u, v, w, a, b, φ): apex along the two directions of
	// Frame(Axis) and along Axis, mm; tilts of Axis toward the two with the apex
	// held, rad; half angle, rad.
	Cov       [6][6]float64
	Residuals ResidualStats
	Iters     int
}

// ConeTo fits one nappe of a right circular cone to pts, mm, by least squares
// of the orthogonal distance, without a start. It needs 6 points. Errors:
// *TooFewError, *InputError, ErrDegenerate, ErrNoConvergence; *FlatError and
// *TaperError with the answer.
//
// Start: see axisStarts and coneAbout. Method: Levenberg–Marquardt on anchor,
// frame, curvature of the section and half angle, see arc and coneModel.
func ConeTo(pts []r3.Vector, opt Options) (ConeFit, error) {
	c, err := columns("cone", pts, opt, 6)
	if err != nil {
		return ConeFit{}, err
	}
	m, iters, err := coneStart(c, opt.MaxIter)
	if err != nil {
		return ConeFit{}, err
	}
	return coneEnd(m, c, opt.MaxIter, iters)
}

// ConeFrom refines start on pts, without a search for another one.
func ConeFrom(start Cone, pts []r3.Vector, opt Options) (ConeFit, error) {
	phi := start.HalfAngle.Radians()
	if !finite(start.Apex) || !finite(start.Axis) || start.Axis.Norm() == 0 || !(phi > 0 && phi < math.Pi/2) {
		return ConeFit{}, &InputError{"cone", -1, start.Apex, "the start needs an apex, an axis and a half angle between 0 and 90 degrees"}
	}
	c, err := columns("cone", pts, opt, 6)
	if err != nil {
		return ConeFit{}, err
	}
	w := unit(start.Axis)
	apex := c.in(start.Apex)
	h := -apex.Dot(w) // height of the centroid over the apex
	if !(h > 0) {
		return ConeFit{}, &InputError{"cone", -1, start.Apex, "the start opens away from the points"}
	}
	m := &coneModel{phi: phi}
	m.cur = arcAt(apex.Add(w.Mul(h)), w, h*math.Tan(phi))
	iters := 0
	if small := c.sample(1024); small != c {
		iters = solve(m, small, opt.MaxIter).iters
	}
	return coneEnd(m, c, opt.MaxIter, iters)
}

func coneEnd(m *coneModel, c *cloud, maxIter, before int) (ConeFit, error) {
	s := solve(m, c, maxIter)
	s.iters += before
	m.normalise()
	var zero [maxParams]float64
	m.try(&zero)
	w := newCrew(m, c)
	defer w.close()
	w.sum(&s.sums)
	sum, cov, cond, ok := finish(m, c, &s, 6)
	out := ConeFit{Residuals: sum, Iters: s.iters}
	if !ok || cond > singular {
		return out, degenerate("cone", "the points fit more than one cone (all on one plane or circle, or too short a part?)")
	}
	a := m.cur
	if a.k == 0 {
		return out, &FlatError{"cone", 0, math.Sqrt(cov[2][2]) / c.scale}
	}
	if phiU := math.Sqrt(cov[5][5]); m.phi == 0 {
		return out, &TaperError{0, phiU}
	}
	r := 1 / a.k
	sin, cos := math.Sincos(m.phi)
	out.Apex = c.back(a.centre().Sub(a.w.Mul(r * cos / sin)))
	out.Axis, out.HalfAngle = a.w, s1.Angle(m.phi)
	to := m.coneMap()
	full := propagate(&to, &cov, 6, 6)
	unit := [6]float64{c.scale, c.scale, c.scale, 1, 1, 1}
	for i := range 6 {
		for j := range 6 {
			out.Cov[i][j] = full[i][j] * unit[i] * unit[j]
		}
	}
	if phiU := math.Sqrt(cov[5][5]); m.phi <= 2*phiU {
		return out, &TaperError{m.phi, phiU}
	}
	if err := flat("cone", a.k, math.Sqrt(cov[2][2]), c.scale); err != nil || s.converged {
		return out, err
	}
	return out, noConvergence("cone", s.iters)
}

// coneModel is a cone: the arc is its section at the anchor's height, phi the
// half angle, positive where the section grows along w. With ρ - r the radial
// distance from the section (f of arc) and z = (p - at)·w:
//
//	f = (ρ - r) cos φ - z sin φ
//
// Local parameters (δ, ω, k, α, β, φ); a tilt α also moves z by αq, β by βt:
//
//	∂f/∂α = cz cos φ - q sin φ    ∂f/∂β = -sz cos φ - t sin φ
//	∂f/∂φ = -(ρ - r) sin φ - z cos φ
type coneModel struct {
	cur, next     arc
	phi, nextPhi  float64
	sinNext, cosN float64
}

func (m *coneModel) params() int   { return 6 }
func (m *coneModel) perPoint() int { return 1 }
func (m *coneModel) accept()       { m.cur, m.phi = m.next, m.nextPhi }

func (m *coneModel) try(d *[maxParams]float64) bool {
	m.next = m.cur.turn(m.cur.n.Mul(d[0]), d[1], d[3], d[4])
	m.next.k += d[2]
	m.nextPhi = m.phi + d[5]
	m.sinNext, m.cosN = math.Sincos(m.nextPhi)
	return math.Abs(m.next.k) < sharpest
}

// normalise brings the accepted state to k ≥ 0, 0 ≤ φ ≤ 90°, anchor level.
func (m *coneModel) normalise() {
	m.phi = math.Remainder(m.phi, math.Pi)
	a := m.cur
	if a.k < 0 {
		// The same surface, the centre on the other side: outside and inside
		// change, and with them the sense of the slope.
		a = a.outward()
		m.phi = -m.phi
	}
	if m.phi < 0 {
		a.w, a.t, m.phi = a.w.Mul(-1), a.t.Mul(-1), -m.phi
	}
	// To the origin's height: the section there has another radius.
	if z := -a.at.Dot(a.w); a.k > 0 {
		r := 1 / a.k
		if r2 := r + z*math.Tan(m.phi); r2 > 1e-3*r {
			ctr := a.centre().Add(a.w.Mul(z))
			a.at, a.k = ctr.Sub(a.n.Mul(r2)), 1/r2
		}
	}
	m.cur = a
}

// coneMap maps (δ, ω, k, α, β, φ) to ConeFit.Cov's parameters. The apex is
// at + r n - (r/tan φ) w.
func (m *coneModel) coneMap() (to matrix) {
	r := 1 / m.cur.k
	sin, cos := math.Sincos(m.phi)
	h := r * cos / sin
	c, s := m.cur.angles()
	n := [maxParams]float64{1, 0, -r * r, -h, 0, 0}
	t := [maxParams]float64{0, r, 0, 0, -h, 0}
	for i := range maxParams {
		to[0][i] = c*n[i] + s*t[i]
		to[1][i] = -s*n[i] + c*t[i]
	}
	to[2] = [maxParams]float64{0, 0, r * r * cos / sin, -r, 0, r / (sin * sin)}
	to[3] = [maxParams]float64{0, 0, 0, c, s, 0}
	to[4] = [maxParams]float64{0, 0, 0, -s, c, 0}
	to[5] = [maxParams]float64{0, 0, 0, 0, 0, 1}
	return to
}

func (m *coneModel) rows(c *cloud, lo, hi int, b *block) {
	a := &m.next
	k := a.k
	round, r2 := a.round()
	sin, cos := m.sinNext, m.cosN
	ax, ay, az := a.at.X, a.at.Y, a.at.Z
	nx, ny, nz := a.n.X, a.n.Y, a.n.Z
	tx, ty, tz := a.t.X, a.t.Y, a.t.Z
	wx, wy, wz := a.w.X, a.w.Y, a.w.Z
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	y, z = y[:n], z[:n]
	f, j0, j1, j2 := b.f[:n], b.j[0][:n], b.j[1][:n], b.j[2][:n]
	j3, j4, j5 := b.j[3][:n], b.j[4][:n], b.j[5][:n]
	for i := range n {
		dx, dy, dz := x[i]-ax, y[i]-ay, z[i]-az
		q := dx*nx + dy*ny + dz*nz
		t := dx*tx + dy*ty + dz*tz
		h := dx*wx + dy*wy + dz*wz
		u, v := 1-k*q, k*t
		s := math.Sqrt(u*u + v*v + 1e-300)
		is := 1 / s
		g := (k*(q*q+t*t) - 2*q) / (1 + s)
		cs, ts := u*is, t*is
		f[i] = g*cos - h*sin
		j0[i] = cs * cos
		j1[i] = -ts * cos
		if round {
			j2[i] = (1 - cs) * r2 * cos
		} else {
			j2[i] = ts * ts / (1 + cs) * cos
		}
		j3[i] = cs*h*cos - q*sin
		j4[i] = -v*is*h*cos - t*sin
		j5[i] = -g*sin - h*cos
	}
}
