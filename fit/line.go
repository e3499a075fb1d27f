package fit

import (
	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/geom"
)

// LineFit is a fitted line. Point is the points' centroid, which lies on it.
type LineFit struct {
	Line
	// Cov is of (u, v, a, b): shifts across at Point along the two directions
	// of geom.Basis(Direction), mm, and tilts toward them, rad.
	Cov       [4][4]float64
	Residuals ResidualStats
}

// LineTo fits a line in space to pts, mm, by least squares of the distance. It
// needs 2 distinct points; the largest component of Direction is positive.
// Errors: *TooFewError, *InputError, ErrDegenerate.
//
// Method: the direction of most spread about the centroid (Pearson 1901).
func LineTo(pts []r3.Vector, opt Options) (LineFit, error) {
	if _, err := opt.check("line", 0); err != nil {
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
	d := orient(dir[2])
	m := &lineModel{at: mean, d: d}
	m.u, m.v = geom.Basis(d)
	var s solved
	newAccumulator(m, c).sum(&s.sums)
	sum, cov, _, _ := statistics(m, c, &s)
	sum.FormError = 2 * sum.Max
	out := LineFit{Line: Line{Point: c.back(mean), Direction: d}, Residuals: sum}
	unit := [4]float64{c.scale, c.scale, 1, 1}
	for i := range 4 {
		for j := range 4 {
			out.Cov[i][j] = cov[i][j] * unit[i] * unit[j]
		}
	}
	return out, nil
}

// lineModel is a line; local parameters (u, v, a, b) as LineFit.Cov. Its two
// residuals a point are f = (p - at)·e1 and (p - at)·e2, with z along the line:
//
//	∂f/∂u = -1    ∂f/∂a = -z
type lineModel struct{ at, d, u, v r3.Vector }

func (m *lineModel) params() int                    { return 4 }
func (m *lineModel) perPoint() int                  { return 2 }
func (m *lineModel) try(_ *[maxParams]float64) bool { return true }
func (m *lineModel) accept()                        {}
func (m *lineModel) rows(c *cloud, lo, hi int, b *block) {
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	n := len(x)
	for i := range x {
		dx, dy, dz := x[i]-m.at.X, y[i]-m.at.Y, z[i]-m.at.Z
		h := dx*m.d.X + dy*m.d.Y + dz*m.d.Z
		k := n + i
		b.f[i] = dx*m.u.X + dy*m.u.Y + dz*m.u.Z
		b.f[k] = dx*m.v.X + dy*m.v.Y + dz*m.v.Z
		b.j[0][i], b.j[1][i], b.j[2][i], b.j[3][i] = -1, 0, -h, 0
		b.j[0][k], b.j[1][k], b.j[2][k], b.j[3][k] = 0, -1, 0, -h
	}
}

// Covariance is Cov.
func (f LineFit) Covariance() *mat.SymDense {
	return symmetric(f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:])
}
