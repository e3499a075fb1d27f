package bolt

import (
	"errors"
	"fmt"
	"math"

	"spotface/fit"
)

// ring is the least-squares circle through points of a face, and how each of
// its parameters follows each point.
type ring struct {
	x, y, r float64
	angle   []float64 // of each point about the centre, rad
	radial  []float64 // distance of each point from the centre, less r, mm
	// Derivatives of x, y, r by the points' coordinates, 2i for x of point i and
	// 2i+1 for y, and by what x, y and r differ from those of equal weights, the
	// last three.
	dx, dy, dr []float64
	step       [3]float64 // Newton's step from here to the minimum
	move       float64    // its length
}

// fitRing fits the circle that minimises Σ w (|p - c| - r)² to pts, w nil for
// equal weights.
func fitRing(pts [][2]float64, w []float64) (ring, error) {
	if len(pts) < 3 {
		return ring{}, fmt.Errorf("bolt circle: %d holes, need at least 3 to tell centre and pitch diameter", len(pts))
	}
	if len(pts) == 3 {
		x, y, r, ok := through(pts[0], pts[1], pts[2])
		if !ok {
			return ring{}, fmt.Errorf("bolt circle through 3 holes: they stand on a line: %w", fit.ErrDegenerate)
		}
		return newRing(pts, w, x, y, r)
	}
	c, err := fit.Circle2DTo(pts, fit.Options{Weights: w})
	if err != nil && !errors.Is(err, fit.ErrNoConvergence) {
		return ring{}, fmt.Errorf("bolt circle through %d holes: %w", len(pts), err)
	}
	// Newton's steps from there, the second-order terms included: exact where
	// the fit has converged, and where it stopped at rounding level.
	x, y, r := c.X, c.Y, c.Radius
	for range 20 {
		g, err := newRing(pts, w, x, y, r)
		if err != nil {
			return ring{}, err
		}
		if g.move <= 1e-13*(r+math.Hypot(x, y)) {
			return g, nil
		}
		x, y, r = x+g.step[0], y+g.step[1], r+g.step[2]
	}
	return ring{}, fmt.Errorf("bolt circle through %d holes: %w", len(pts), fit.ErrNoConvergence)
}

// newRing derives the ring's Jacobian at the minimum. Implicit function
// theorem on the normal equations, d = |p - c|, u = (p - c)/d, e = d - r:
//
//	F_c = -Σ w e u = 0        F_r = -Σ w e = 0
//	M = ∂(e u)/∂p = uuᵀ + (e/d)(I - uuᵀ) = -∂(e u)/∂c
//	∂F/∂(c, r) = Σ w [M u; uᵀ 1]        ∂F/∂p = -w [M; uᵀ]
//	∂(c, r)/∂p = -(∂F/∂(c, r))⁻¹ ∂F/∂p
//
// Second-order terms in e stay in: a hole 0.4 degrees off moves the centre by
// more than first order would say.
func newRing(pts [][2]float64, w []float64, x, y, r float64) (ring, error) {
	n := len(pts)
	g := ring{x: x, y: y, r: r,
		angle: make([]float64, n), radial: make([]float64, n),
		dx: make([]float64, 2*n+3), dy: make([]float64, 2*n+3), dr: make([]float64, 2*n+3)}
	g.dx[2*n], g.dy[2*n+1], g.dr[2*n+2] = 1, 1, 1
	var h [3][3]float64 // ∂F/∂(x, y, r)
	var f [3]float64    // -F
	b := make([][3][2]float64, n)
	for i, p := range pts {
		wi := 1.0
		if w != nil {
			wi = w[i]
		}
		qx, qy := p[0]-x, p[1]-y
		d := math.Hypot(qx, qy)
		if d == 0 {
			return ring{}, fmt.Errorf("bolt circle: a hole stands at its centre")
		}
		ux, uy, e := qx/d, qy/d, d-r
		g.angle[i], g.radial[i] = math.Atan2(qy, qx), e
		// M = ∂(e u)/∂p = uuᵀ + (e/d)(I - uuᵀ), and ∂/∂c = -∂/∂p.
		k := e / d
		mxx, mxy, myy := ux*ux+k*(1-ux*ux), ux*uy*(1-k), uy*uy+k*(1-uy*uy)
		h[0][0] += wi * mxx
		h[0][1] += wi * mxy
		h[1][1] += wi * myy
		h[0][2] += wi * ux
		h[1][2] += wi * uy
		h[2][2] += wi
		f[0] += wi * e * ux
		f[1] += wi * e * uy
		f[2] += wi * e
		// -∂F/∂p: rows x, y, r.
		b[i] = [3][2]float64{{wi * mxx, wi * mxy}, {wi * mxy, wi * myy}, {wi * ux, wi * uy}}
	}
	h[1][0], h[2][0], h[2][1] = h[0][1], h[0][2], h[1][2]
	inv, ok := invert3(h)
	if !ok {
		return ring{}, fmt.Errorf("bolt circle: the holes do not tell its centre")
	}
	for k := range 3 {
		g.step[k] = inv[k][0]*f[0] + inv[k][1]*f[1] + inv[k][2]*f[2]
	}
	g.move = math.Hypot(math.Hypot(g.step[0], g.step[1]), g.step[2])
	for i := range pts {
		for k := range 2 {
			c := [3]float64{b[i][0][k], b[i][1][k], b[i][2][k]}
			g.dx[2*i+k] = inv[0][0]*c[0] + inv[0][1]*c[1] + inv[0][2]*c[2]
			g.dy[2*i+k] = inv[1][0]*c[0] + inv[1][1]*c[1] + inv[1][2]*c[2]
			g.dr[2*i+k] = inv[2][0]*c[0] + inv[2][1]*c[1] + inv[2][2]*c[2]
		}
	}
	return g, nil
}

// seen returns angle and radial place of a point p about the ring, with the
// derivatives by the ring's own points (as dx) and by p itself.
func (g ring) seen(p [2]float64) (angle, radial float64, da, dr []float64, own [2][2]float64) {
	qx, qy := p[0]-g.x, p[1]-g.y
	d := math.Hypot(qx, qy)
	ux, uy := qx/d, qy/d
	// ∂angle/∂p = (-uy, ux)/d, ∂|p-c|/∂p = u; by c the opposite.
	own = [2][2]float64{{-uy / d, ux / d}, {ux, uy}}
	da, dr = make([]float64, len(g.dx)), make([]float64, len(g.dx))
	for k := range g.dx {
		da[k] = -own[0][0]*g.dx[k] - own[0][1]*g.dy[k]
		dr[k] = -own[1][0]*g.dx[k] - own[1][1]*g.dy[k] - g.dr[k]
	}
	return math.Atan2(qy, qx), d - g.r, da, dr, own
}

// invert3 inverts a symmetric 3×3 matrix.
func invert3(m [3][3]float64) (inv [3][3]float64, ok bool) {
	c00 := m[1][1]*m[2][2] - m[1][2]*m[2][1]
	c01 := m[1][2]*m[2][0] - m[1][0]*m[2][2]
	c02 := m[1][0]*m[2][1] - m[1][1]*m[2][0]
	det := m[0][0]*c00 + m[0][1]*c01 + m[0][2]*c02
	scale := m[0][0] * m[1][1] * m[2][2]
	if !(math.Abs(det) > 1e-14*math.Abs(scale)) {
		return inv, false
	}
	inv[0] = [3]float64{c00 / det, (m[0][2]*m[2][1] - m[0][1]*m[2][2]) / det, (m[0][1]*m[1][2] - m[0][2]*m[1][1]) / det}
	inv[1] = [3]float64{c01 / det, (m[0][0]*m[2][2] - m[0][2]*m[2][0]) / det, (m[0][2]*m[1][0] - m[0][0]*m[1][2]) / det}
	inv[2] = [3]float64{c02 / det, (m[0][1]*m[2][0] - m[0][0]*m[2][1]) / det, (m[0][0]*m[1][1] - m[0][1]*m[1][0]) / det}
	return inv, true
}

// covariance is that of all hole centres of one circle, and of what its weights
// move it by, mm²: columns as in ring.dx.
type covariance [][]float64

// centreCovariance puts the holes' own covariances on the diagonal, and beside
// it what holes that share a fitted radius have in common.
func centreCovariance(holes []Hole) covariance {
	c := make(covariance, 2*len(holes)+3)
	for i := range c {
		c[i] = make([]float64, len(c))
	}
	for i, h := range holes {
		for a := range 2 {
			for b := range 2 {
				c[2*i+a][2*i+b] = h.CentreCov[a][b]
			}
		}
		for j, o := range holes {
			if j == i {
				continue
			}
			both := CommonError(h, o)
			for a := range 2 {
				for b := range 2 {
					c[2*i+a][2*j+b] = both[a][b]
				}
			}
		}
	}
	return c
}

// CommonError is the covariance, mm², of the centres of two different holes, along
// geom.Basis of the one's axis and of the other's: what they have of a radius that
// both were fitted with, zero where they share none.
func CommonError(a, b Hole) [2][2]float64 {
	if c, ok := a.Cross[b.ID]; ok {
		return c
	}
	if a.shared == 0 || a.shared != b.shared {
		return [2][2]float64{}
	}
	return [2][2]float64{
		{a.common[0] * b.common[0], a.common[0] * b.common[1]},
		{a.common[1] * b.common[0], a.common[1] * b.common[1]},
	}
}

// of returns aᵀ C b.
func (c covariance) of(a, b []float64) float64 {
	var s float64
	for i, ai := range a {
		if ai == 0 {
			continue
		}
		for j, bj := range b {
			s += ai * c[i][j] * bj
		}
	}
	return s
}

// sd returns the standard uncertainty of the quantity with gradient a.
func (c covariance) sd(a []float64) float64 { return math.Sqrt(max(0, c.of(a, a))) }
