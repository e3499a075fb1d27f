package fit

import (
	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// PlaneFit is a fitted plane. Point is the points' centroid, which lies on it.
type PlaneFit struct {
	Plane
	// Cov is of (h, a, b): shift along Normal at Point, mm, and tilts toward
	// the two directions of geom.Basis(Normal), rad. Scan noise from the residuals.
	Cov       [3][3]float64
	Residuals ResidualStats
}

// PlaneTo fits a plane to pts, mm, by least squares of the orthogonal distance.
// It needs 3 points that are not on one line, less the parameters held; the largest
// component of Normal is positive. Errors: *TooFewError, *InputError, ErrDegenerate.
//
// Method: the direction of least spread about the centroid (Pearson, Phil. Mag.
// 2 (1901) 559–572), found on a scatter matrix formed along itself.
func PlaneTo(pts []r3.Vector, opt Options) (PlaneFit, error) {
	fewer, err := opt.check("plane", holdsDirection|holdsPerpendicular)
	if err != nil {
		return PlaneFit{}, err
	}
	start, err := opt.start(KindPlane)
	if err != nil {
		return PlaneFit{}, err
	}
	c, err := columns("plane", pts, opt, 3-fewer)
	if err != nil {
		return PlaneFit{}, err
	}
	m := &planeModel{hold: newHold(c, opt)}
	along := c
	if d := m.hold.perpendicular; fewer == 1 {
		// As seen along the direction, a line.
		along = &cloud{x: make([]float64, len(c.x)), y: make([]float64, len(c.x)), z: make([]float64, len(c.x)), sw: c.sw}
		for i := range c.x {
			p := c.at(i)
			p = p.Sub(d.Mul(p.Dot(d)))
			along.x[i], along.y[i], along.z[i] = p.X, p.Y, p.Z
		}
	}
	mean, dir, val := principal(along)
	least, next := val[fewer%2], val[1+fewer%2]
	switch {
	case m.hold.direction:
		m.n = m.hold.w
	case c.within(next):
		return PlaneFit{}, degenerate("plane", "all points are on one line; a plane needs points beside it")
	case next < least*(1+alike):
		return PlaneFit{}, degenerate("plane", "the points spread as much across the plane as along it")
	default:
		m.n = orient(dir[fewer%2])
	}
	if s, ok := start.(Plane); ok && s.Normal.Dot(m.n) < 0 {
		m.n = m.n.Mul(-1)
	}
	if along != c {
		mean, _ = scatterAlong(c, r3.Vector{}, [3]r3.Vector{{X: 1}, {Y: 1}, {Z: 1}})
	}
	m.at = mean
	m.u, m.v = geom.Basis(m.n)
	var s solved
	newAccumulator(m, c).sum(&s.sums)
	stats, cov, _, _ := statistics(m, c, &s)
	out := PlaneFit{Plane: Plane{Point: c.back(mean), Normal: m.n}, Residuals: stats}
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
type planeModel struct {
	at, n, u, v r3.Vector
	hold        hold
}

func (m *planeModel) params() int                    { return 3 }
func (m *planeModel) perPoint() int                  { return 1 }
func (m *planeModel) try(_ *[maxParams]float64) bool { return true }
func (m *planeModel) accept()                        {}

func (m *planeModel) taken() (h held) {
	if m.hold.direction {
		h.take([maxParams]float64{1: 1})
		h.take([maxParams]float64{2: 1})
	}
	// (n + a u + b v)·d = 0
	h.take([maxParams]float64{1: m.hold.perpendicular.Dot(m.u), 2: m.hold.perpendicular.Dot(m.v)})
	return h
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
