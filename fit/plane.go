package fit

import "github.com/golang/geo/r3"

// PlaneFit is a fitted plane. Point is the points' centroid, which lies on it.
type PlaneFit struct {
	Plane
	// Cov is of (h, a, b): shift along Normal at Point, mm, and tilts toward
	// the two directions of Frame(Normal), rad. Scan noise from the residuals.
	Cov       [3][3]float64
	Residuals ResidualStats
}

// PlaneTo fits a plane to pts, mm, by least squares of the orthogonal distance.
// It needs 3 points that are not on one line; the largest component of Normal
// is positive. Errors: *TooFewError, *InputError, ErrDegenerate.
//
// Method: the direction of least spread about the centroid (Pearson, Phil. Mag.
// 2 (1901) 559–572), found on a scatter matrix formed along itself.
func PlaneTo(pts []r3.Vector, opt Options) (PlaneFit, error) {
	c, err := columns("plane", pts, opt, 3)
	if err != nil {
		return PlaneFit{}, err
	}
	mean, dir, val := principal(c)
	g := c.grain()
	if val[1] <= 64*g*g {
		return PlaneFit{}, degenerate("plane", "all points are on one line; a plane needs points beside it")
	}
	if val[1] < val[0]*(1+1e-9) {
		return PlaneFit{}, degenerate("plane", "the points spread as much across the plane as along it")
	}
	n := orient(dir[0])
	m := &planeModel{at: mean, n: n}
	m.u, m.v = Frame(n)
	var s solved
	w := newCrew(m, c)
	defer w.close()
	w.sum(&s.sums)
	sum, cov, _, _ := finish(m, c, &s, 3)
	out := PlaneFit{Plane: Plane{Point: c.back(mean), Normal: n}, Residuals: sum}
	unit := [3]float64{c.scale, 1, 1}
	for i := range 3 {
		for j := range 3 {
			out.Cov[i][j] = cov[i][j] * unit[i] * unit[j]
		}
	}
	return out, nil
}

// planeModel is a plane; local parameters (h, a, b) as PlaneFit.Cov.
//
//	f = (p - at)·n    ∂f/∂h = -1    ∂f/∂a = (p - at)·e1    ∂f/∂b = (p - at)·e2
type planeModel struct{ at, n, u, v r3.Vector }

func (m *planeModel) params() int                    { return 3 }
func (m *planeModel) perPoint() int                  { return 1 }
func (m *planeModel) try(_ *[maxParams]float64) bool { return true }
func (m *planeModel) accept()                        {}
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
