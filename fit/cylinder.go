package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// CylinderFit is a fitted cylinder. Point is the foot of the points' centroid
// on the axis.
type CylinderFit struct {
	Cylinder
	// Cov is of (u, v, a, b, r): shifts of the axis across at Point along the
	// two directions of Frame(Axis), mm; its tilts toward them, rad; radius, mm.
	Cov       [5][5]float64
	Residuals ResidualStats
	Iters     int
}

// CylinderTo fits a right circular cylinder to pts, mm, by least squares of
// the orthogonal distance, without a start. It needs 5 points that are not on
// one plane; the largest component of Axis is positive. Errors: *TooFewError,
// *InputError, ErrDegenerate, ErrNoConvergence, and *FlatError with the answer.
//
// Start: see axisStarts. Method: Levenberg–Marquardt on anchor, frame and
// curvature, see arc and cylinderModel.
func CylinderTo(pts []r3.Vector, opt Options) (CylinderFit, error) {
	c, err := columns("cylinder", pts, opt, 5)
	if err != nil {
		return CylinderFit{}, err
	}
	m, iters, err := cylinderStart(c, r3.Vector{}, opt)
	if err != nil {
		return CylinderFit{}, err
	}
	m.cur.w = orient(m.cur.w)
	m.cur.t = m.cur.w.Cross(m.cur.n)
	return cylinderEnd(m, c, opt, iters)
}

// CylinderFrom refines start on pts, without a search for another one. Axis
// keeps the sense of start's. Points, errors and method are those of
// CylinderTo.
func CylinderFrom(start Cylinder, pts []r3.Vector, opt Options) (CylinderFit, error) {
	if opt.Radius > 0 {
		start.Radius = opt.Radius
	}
	if !(start.Radius > 0) || math.IsInf(start.Radius, 0) || !finite(start.Point) || !finite(start.Axis) || start.Axis.Norm() == 0 {
		return CylinderFit{}, &InputError{"cylinder", -1, start.Point, "the start needs a point, an axis and a radius above zero"}
	}
	c, err := columns("cylinder", pts, opt, 5)
	if err != nil {
		return CylinderFit{}, err
	}
	w := unit(start.Axis)
	m := &cylinderModel{cur: arcAt(c.in(start.Point), w, start.Radius/c.scale), holdR: opt.Radius > 0}
	iters := 0
	if small := c.sample(1024); small != c {
		iters = solve(m, small, opt.MaxIter).iters
	}
	return cylinderEnd(m, c, opt, iters)
}

// cylinderEnd solves on all points from m and makes the result.
func cylinderEnd(m *cylinderModel, c *cloud, opt Options, before int) (CylinderFit, error) {
	m.cur = m.cur.level()
	s := solve(m, c, opt.MaxIter)
	s.iters += before
	sum, cov, cond, ok := finish(m, c, &s, 5)
	out := CylinderFit{Residuals: sum, Iters: s.iters}
	if !ok || cond > singular {
		return out, degenerate("cylinder", "the points fit more than one cylinder (all on one plane, one circle or two lines?)")
	}
	a := m.cur
	if a.k == 0 {
		return out, &FlatError{"cylinder", 0, math.Sqrt(cov[2][2]) / c.scale}
	}
	if a.k < 0 {
		out.Residuals = sum.turnOver()
	}
	ctr := a.centre()
	out.Point, out.Axis = c.back(ctr.Sub(a.w.Mul(ctr.Dot(a.w)))), a.w
	out.Radius = c.scale / math.Abs(a.k)
	to := a.cylinderMap()
	full := propagate(&to, &cov, 5, 5)
	unit := [5]float64{c.scale, c.scale, 1, 1, c.scale}
	for i := range 5 {
		for j := range 5 {
			out.Cov[i][j] = full[i][j] * unit[i] * unit[j]
		}
	}
	if opt.Radius == 0 {
		if err := flat("cylinder", a.k, math.Sqrt(cov[2][2]), c.scale); err != nil {
			return out, err
		}
	}
	if s.converged {
		return out, nil
	}
	return out, noConvergence("cylinder", s.iters)
}

// level moves the anchor along the axis to the height of the origin.
func (a arc) level() arc {
	a.at = a.at.Sub(a.w.Mul(a.at.Dot(a.w)))
	return a
}

// cylinderMap maps (δ, ω, k, α, β) to CylinderFit.Cov's parameters.
func (a arc) cylinderMap() (m matrix) {
	// The anchor, about which the tilts turn, is z above the foot of the
	// centroid, where the shifts are asked.
	z := a.at.Dot(a.w)
	r := 1 / a.k
	c, s := a.angles()
	m[0] = [maxParams]float64{c, s * r, -c * r * r, -c * z, -s * z}
	m[1] = [maxParams]float64{-s, c * r, s * r * r, s * z, -c * z}
	m[2] = [maxParams]float64{0, 0, 0, c, s}
	m[3] = [maxParams]float64{0, 0, 0, -s, c}
	m[4] = [maxParams]float64{0, 0, -r * r * math.Copysign(1, a.k), 0, 0}
	return m
}

// cylinderModel is a cylinder. Local parameters: shift δ along n, turn ω about
// w, curvature, tilts α and β of w toward n and t. With z = (p - at)·w, a tilt
// moves q by -αz and t by -βz:
//
//	∂f/∂α = cz    ∂f/∂β = -sz
type cylinderModel struct {
	cur, next arc
	holdR     bool
	square    r3.Vector // w is held square to it, unless zero
}

func (m *cylinderModel) taken() (h held) {
	if m.holdR {
		h.take([maxParams]float64{2: 1})
	}
	// (w + αn + βt)·d = 0
	h.take([maxParams]float64{3: m.square.Dot(m.next.n), 4: m.square.Dot(m.next.t)})
	return h
}

func (m *cylinderModel) params() int   { return 5 }
func (m *cylinderModel) perPoint() int { return 1 }
func (m *cylinderModel) accept()       { m.cur = m.next }

func (m *cylinderModel) try(d *[maxParams]float64) bool {
	m.next = m.cur.turn(m.cur.n.Mul(d[0]), d[1], d[3], d[4])
	m.next.k += d[2]
	return math.Abs(m.next.k) < sharpest
}

func (m *cylinderModel) rows(c *cloud, lo, hi int, b *block) {
	a := &m.next
	k := a.k
	round, r2 := a.round()
	ax, ay, az := a.at.X, a.at.Y, a.at.Z
	nx, ny, nz := a.n.X, a.n.Y, a.n.Z
	tx, ty, tz := a.t.X, a.t.Y, a.t.Z
	wx, wy, wz := a.w.X, a.w.Y, a.w.Z
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	y, z = y[:n], z[:n]
	f, j0, j1, j2, j3, j4 := b.f[:n], b.j[0][:n], b.j[1][:n], b.j[2][:n], b.j[3][:n], b.j[4][:n]
	for i := range n {
		dx, dy, dz := x[i]-ax, y[i]-ay, z[i]-az
		q := dx*nx + dy*ny + dz*nz
		t := dx*tx + dy*ty + dz*tz
		h := dx*wx + dy*wy + dz*wz
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
		j3[i] = cs * h
		j4[i] = -v * is * h
	}
}
