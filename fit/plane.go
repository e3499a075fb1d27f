package fit

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// PlaneFit is a fitted plane. Point is the points' centroid, which lies on it. Cov is of
// (h, a, b): shift along Normal at Point, mm, and tilts toward the two directions of
// geom.Basis(Normal), rad.
type PlaneFit struct {
	Plane
	Result
}

// PlaneTo fits a plane to pts, mm, by least squares of the orthogonal distance.
// It needs 3 points that are not on one line, 1 along a known normal; the largest
// component of Normal is positive. Errors: *TooFewError, *InputError, ErrDegenerate.
//
// Method: the direction of least spread about the centroid (Pearson, Phil. Mag.
// 2 (1901) 559–572), found on a scatter matrix formed along itself.
func PlaneTo(pts []r3.Vector, opt Options) (PlaneFit, error) {
	if err := opt.check("plane", false, true); err != nil {
		return PlaneFit{}, err
	}
	start, err := opt.start(KindPlane)
	if err != nil {
		return PlaneFit{}, err
	}
	need, along := 3, opt.Direction != (r3.Vector{})
	if along {
		need = 1
	}
	c, err := columns("plane", pts, opt, need)
	if err != nil {
		return PlaneFit{}, err
	}
	mean, dir, val := principal(c)
	m := &planeModel{at: mean, along: along}
	switch {
	case along:
		m.n = geom.Unit(opt.Direction)
	case c.within(val[1]):
		return PlaneFit{}, degenerate("plane", "all points are on one line; a plane needs points beside it")
	case val[1] < val[0]*(1+alike):
		return PlaneFit{}, degenerate("plane", "the points spread as much across the plane as along it")
	default:
		m.n = orient(dir[0])
	}
	if s, ok := start.(Plane); ok && s.Normal.Dot(m.n) < 0 {
		m.n = m.n.Mul(-1)
	}
	if opt.ShapeOnly {
		return PlaneFit{Plane{Point: c.back(mean), Normal: m.n}, Result{}}, nil
	}
	m.u, m.v = geom.Basis(m.n)
	var s solved
	newAccumulator(m, c).sum(&s.sums)
	stats, cov, _, _ := statistics(m, c, &s)
	for i := range cov {
		cov[0][i] *= c.scale
		cov[i][0] *= c.scale
	}
	return PlaneFit{Plane{Point: c.back(mean), Normal: m.n}, Result{Cov: cov, Residuals: stats, params: 3}}, nil
}

// planeModel is a plane; local parameters (h, a, b) as PlaneFit.Cov.
//
//	f = (p - at)·n    ∂f/∂h = -1    ∂f/∂a = (p - at)·e1    ∂f/∂b = (p - at)·e2
type planeModel struct {
	at, n, u, v r3.Vector
	along       bool // n is held
}

func (m *planeModel) params() int                    { return 3 }
func (m *planeModel) perPoint() int                  { return 1 }
func (m *planeModel) try(_ *[maxParams]float64) bool { return true }
func (m *planeModel) accept()                        {}

func (m *planeModel) held() uint {
	if m.along {
		return 0b110
	}
	return 0
}

func (m *planeModel) rows(c *cloud, lo, hi int, b *block) {
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	for i := range x {
		dx, dy, dz := x[i]-m.at.X, y[i]-m.at.Y, z[i]-m.at.Z
		b.f[i] = dx*m.n.X + dy*m.n.Y + dz*m.n.Z
		b.j[0][i] = -1
		b.j[1][i] = dx*m.u.X + dy*m.u.Y + dz*m.u.Z
		b.j[2][i] = dx*m.v.X + dy*m.v.Y + dz*m.v.Z
	}
}

// principal returns the mean of the points (what is left of it after
// centring), their principal directions, right-handed and of the least spread
// first, and the mean squares along them.
//
// The scatter matrix is formed again along the directions found: along them the
// small residuals are multiplied as such and not left over from large squares,
// so the directions come out at rounding level.
func principal(c *cloud) (mean r3.Vector, dir [3]r3.Vector, val [3]float64) {
	dir = [3]r3.Vector{{X: 1}, {Y: 1}, {Z: 1}}
	for range alignRounds {
		var s geom.Sym3
		mean, s = scatterAlong(c, mean, dir)
		var v, d [3]r3.Vector
		val, v = s.Eigen()
		turned := 0.0
		for k := range 3 {
			d[k] = dir[0].Mul(v[k].X).Add(dir[1].Mul(v[k].Y)).Add(dir[2].Mul(v[k].Z))
			own := [3]float64{v[k].X, v[k].Y, v[k].Z}[k]
			turned += 1 - own*own
		}
		d[0] = geom.Unit(d[0])
		d[1] = geom.Unit(d[1].Sub(d[0].Mul(d[1].Dot(d[0]))))
		d[2] = d[0].Cross(d[1])
		dir = d
		if turned < aligned {
			break
		}
	}
	return mean, dir, val
}

// scatterAlong returns the mean of c, near the one given, and the scatter
// about it along three directions, over the sum of weights: from the sums of the plane
// across the first of them.
func scatterAlong(c *cloud, near r3.Vector, dir [3]r3.Vector) (r3.Vector, geom.Sym3) {
	var s sums
	newAccumulator(&planeModel{at: near, n: dir[0], u: dir[1], v: dir[2]}, c).sum(&s)
	n := s.a[0][0]
	m := r3.Vector{X: -s.g[0] / n, Y: -s.a[0][1] / n, Z: -s.a[0][2] / n}
	return near.Add(dir[0].Mul(m.X)).Add(dir[1].Mul(m.Y)).Add(dir[2].Mul(m.Z)), geom.Sym3{
		XX: s.f/n - m.X*m.X, XY: s.g[1]/n - m.X*m.Y, XZ: s.g[2]/n - m.X*m.Z,
		YY: s.a[1][1]/n - m.Y*m.Y, YZ: s.a[1][2]/n - m.Y*m.Z, ZZ: s.a[2][2]/n - m.Z*m.Z,
	}
}

// LineFit is a fitted line. Point is the points' centroid, which lies on it. Cov is of
// (u, v, a, b): shifts across at Point along the two directions of
// geom.Basis(Direction), mm, and tilts toward them, rad.
type LineFit struct {
	Line
	Result
}

// LineTo fits a line in space to pts, mm, by least squares of the distance. It
// needs 2 distinct points; the largest component of Direction is positive.
// Errors: *TooFewError, *InputError, ErrDegenerate.
//
// Method: the direction of most spread about the centroid (Pearson 1901).
func LineTo(pts []r3.Vector, opt Options) (LineFit, error) {
	if err := opt.check("line", false, false); err != nil {
		return LineFit{}, err
	}
	c, err := columns("line", pts, opt, 2)
	if err != nil {
		return LineFit{}, err
	}
	mean, dir, val := principal(c)
	if val[2] < val[1]*(1+alike) {
		return LineFit{}, degenerate("line", "the points spread as much across the line as along it")
	}
	out := LineFit{Line{c.back(mean), orient(dir[2])}, Result{params: 4}}
	r := newSpread()
	for i := range c.x {
		v := c.at(i).Sub(mean).Cross(dir[2]).Norm()
		r.add(c, i, v, v*v)
	}
	var variance float64
	out.Residuals, variance = r.stats(c, 2*c.n-4)
	out.Residuals.FormError = 2 * out.Residuals.Max
	// Two residuals a point, of the Jacobians -(1, 0, h, 0) and -(0, 1, 0, h) at the
	// height h along the line: J'WJ is diagonal with n and Σ wh².
	n := float64(c.n)
	for i := range 2 {
		out.Cov[i][i] = variance / n * c.scale * c.scale
		out.Cov[i+2][i+2] = variance / (n * val[2])
	}
	return out, nil
}

// Line2DTo is LineTo of points in the plane z = 0. There a point lies on one side or the
// other, so that its residual has a sign, FormError is the largest less the smallest, and
// the line has two parameters: Cov[0][0] is the variance of the offset, mm², Cov[2][2] that
// of the tilt, rad², the others are zero.
func Line2DTo(pts []r3.Vector, opt Options) (LineFit, error) {
	out, err := LineTo(pts, opt)
	if err != nil {
		return out, err
	}
	r := &out.Residuals
	r.Min, r.Max = math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		d := out.Direction.Cross(p.Sub(out.Point)).Z
		r.Min, r.Max = min(r.Min, d), max(r.Max, d)
	}
	r.FormError = r.Max - r.Min
	// n - 2 degrees of freedom where LineTo has 2n - 4.
	r.Sigma *= math.Sqrt2
	out.Cov = matrix{0: {0: 2 * out.Cov[0][0]}, 2: {2: 2 * out.Cov[2][2]}}
	return out, nil
}
