package geom

import (
	"github.com/golang/geo/r3"
)

// Moments are the sums of points, taken from a place near them, and of their
// products.
type Moments struct {
	N   float64
	Sum r3.Vector
	Sq  Sym3
}

// Add adds a point.
func (m *Moments) Add(v r3.Vector) {
	m.N++
	m.Sum.X += v.X
	m.Sum.Y += v.Y
	m.Sum.Z += v.Z
	m.Sq.AddOuter(v, 1)
}

// Mean returns the points' centroid.
func (m *Moments) Mean() r3.Vector { return m.Sum.Mul(1 / m.N) }

// Cov returns the points' covariance about their centroid, divided by their
// number.
func (m *Moments) Cov() Sym3 {
	c, k := m.Mean(), 1/m.N
	return Sym3{
		XX: m.Sq.XX*k - c.X*c.X, XY: m.Sq.XY*k - c.X*c.Y, XZ: m.Sq.XZ*k - c.X*c.Z,
		YY: m.Sq.YY*k - c.Y*c.Y, YZ: m.Sq.YZ*k - c.Y*c.Z, ZZ: m.Sq.ZZ*k - c.Z*c.Z,
	}
}

// Plane returns the least-squares plane n·v = d of the points, and their
// variance off it. ok is false where the points do not determine a plane: fewer
// than three, or all on a line or in one place.
func (m *Moments) Plane() (n r3.Vector, d, variance float64, ok bool) {
	if m.N < 3 {
		return n, 0, 0, false
	}
	n, variance, ok = m.Cov().Smallest()
	return n, n.Dot(m.Mean()), variance, ok
}

// Quadric is the height w = q0 + q1 u + q2 v + q3 u² + q4 uv + q5 v² over a
// tangent plane.
type Quadric [6]float64

// At returns the height at (u, v).
func (q *Quadric) At(u, v float64) float64 {
	return q[0] + u*(q[1]+q[3]*u+q[4]*v) + v*(q[2]+q[5]*v)
}

// QuadricSums are the sums from which a quadric is fitted. u and v should be
// of the order of 1.
type QuadricSums struct {
	n, u, v                      float64
	uu, uv, vv                   float64
	uuu, uuv, uvv, vvv           float64
	uuuu, uuuv, uuvv, uvvv, vvvv float64
	w                            [6]float64
}

// Add adds a point at height w over (u, v).
func (s *QuadricSums) Add(u, v, w float64) {
	uu, uv, vv := u*u, u*v, v*v
	s.n++
	s.u += u
	s.v += v
	s.uu += uu
	s.uv += uv
	s.vv += vv
	s.uuu += uu * u
	s.uuv += uu * v
	s.uvv += u * vv
	s.vvv += vv * v
	s.uuuu += uu * uu
	s.uuuv += uu * uv
	s.uuvv += uu * vv
	s.uvvv += uv * vv
	s.vvvv += vv * vv
	s.w[0] += w
	s.w[1] += u * w
	s.w[2] += v * w
	s.w[3] += uu * w
	s.w[4] += uv * w
	s.w[5] += vv * w
}

// Fit returns the quadric of least squares in height. ok is false where the
// points do not determine one: fewer than six, or on a curve of second degree.
func (s *QuadricSums) Fit() (q Quadric, ok bool) {
	a := [36]float64{
		s.n, 0, 0, 0, 0, 0,
		s.u, s.uu, 0, 0, 0, 0,
		s.v, s.uv, s.vv, 0, 0, 0,
		s.uu, s.uuu, s.uuv, s.uuuu, 0, 0,
		s.uv, s.uuv, s.uvv, s.uuuv, s.uuvv, 0,
		s.vv, s.uvv, s.vvv, s.uuvv, s.uvvv, s.vvvv,
	}
	if !Cholesky(a[:], 6, quadricPivot) {
		return q, false
	}
	q = s.w
	CholeskySolve(a[:], q[:])
	return q, true
}
