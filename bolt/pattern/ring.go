package pattern

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"spotface/fit"
)

// RingFit is the least-squares circle through places, and how each of its parameters
// follows each place.
type RingFit struct {
	X, Y, R float64
	Angle   []float64 // of each place about the centre, rad
	Radial  []float64 // distance of each place from the centre, less R, mm
	// Derivatives of X, Y and R by the places' coordinates, x of place i in 2i, y in 2i+1.
	DX, DY, DR []float64
}

// FitRing fits the circle that minimises Σ (|p - c| - r)². The error says why there is
// none: fewer than three places, or places on a line (fit.ErrDegenerate).
func FitRing(pts [][2]float64) (RingFit, error) {
	if len(pts) < 3 {
		return RingFit{}, fmt.Errorf("bolt circle: %d holes, need at least 3 to tell centre and pitch diameter", len(pts))
	}
	c, err := fit.Circle2DTo(pts, fit.Options{})
	if err != nil && !errors.Is(err, fit.ErrNoConvergence) {
		return RingFit{}, fmt.Errorf("bolt circle through %d holes: %w", len(pts), err)
	}
	// Newton's steps from there, the second-order terms included: exact where
	// the fit has converged, and where it stopped at rounding level.
	x, y, r := c.X, c.Y, c.Radius
	for range 20 {
		g, step, err := ringAt(pts, x, y, r)
		if err != nil {
			return RingFit{}, err
		}
		if math.Hypot(math.Hypot(step[0], step[1]), step[2]) <= 1e-13*(r+math.Hypot(x, y)) {
			return g, nil
		}
		x, y, r = x+step[0], y+step[1], r+step[2]
	}
	return RingFit{}, fmt.Errorf("bolt circle through %d holes: %w", len(pts), fit.ErrNoConvergence)
}

// ringAt derives the ring's Jacobian at the minimum, and Newton's step to it. Implicit
// function theorem on the normal equations, d = |p - c|, u = (p - c)/d, e = d - r:
//
//	F_c = -Σ e u = 0        F_r = -Σ e = 0
//	M = ∂(e u)/∂p = uuᵀ + (e/d)(I - uuᵀ) = -∂(e u)/∂c
//	∂F/∂(c, r) = Σ [M u; uᵀ 1]        ∂F/∂p = -[M; uᵀ]
//	∂(c, r)/∂p = -(∂F/∂(c, r))⁻¹ ∂F/∂p
//
// Second-order terms in e stay in: a hole 0.4 degrees off moves the centre by
// more than first order would say.
func ringAt(pts [][2]float64, x, y, r float64) (g RingFit, step [3]float64, err error) {
	n := len(pts)
	g = RingFit{X: x, Y: y, R: r, Angle: make([]float64, n), Radial: make([]float64, n)}
	h := mat.NewDense(3, 3, nil)   // ∂F/∂(c, r)
	b := mat.NewDense(3, 2*n, nil) // -∂F/∂p
	f := mat.NewVecDense(3, nil)   // -F
	for i, p := range pts {
		qx, qy := p[0]-x, p[1]-y
		d := math.Hypot(qx, qy)
		if d == 0 {
			return g, step, fmt.Errorf("bolt circle: a hole lies at its centre")
		}
		ux, uy, e := qx/d, qy/d, d-r
		g.Angle[i], g.Radial[i] = math.Atan2(qy, qx), e
		k := e / d
		m := [3][3]float64{{ux*ux + k*(1-ux*ux), ux * uy * (1 - k), ux}, {ux * uy * (1 - k), uy*uy + k*(1-uy*uy), uy}, {ux, uy, 1}}
		for row, scale := range [3]float64{e * ux, e * uy, e} {
			f.SetVec(row, f.AtVec(row)+scale)
			b.Set(row, 2*i, m[row][0])
			b.Set(row, 2*i+1, m[row][1])
			for col := range 3 {
				h.Set(row, col, h.At(row, col)+m[row][col])
			}
		}
	}
	var inv, gain mat.Dense
	if inv.Inverse(h) != nil {
		return g, step, fmt.Errorf("bolt circle: the holes do not tell its centre: %w", fit.ErrDegenerate)
	}
	var s mat.VecDense
	s.MulVec(&inv, f)
	gain.Mul(&inv, b)
	g.DX, g.DY, g.DR = gain.RawRowView(0), gain.RawRowView(1), gain.RawRowView(2)
	return g, [3]float64{s.AtVec(0), s.AtVec(1), s.AtVec(2)}, nil
}

// Seen returns the angle, rad, of a point p about the ring and how far out it lies, with
// the derivatives by the ring's own places (as DX) and by p itself.
func (g *RingFit) Seen(p [2]float64) (angle, radial float64, da, dr []float64, own [2][2]float64) {
	qx, qy := p[0]-g.X, p[1]-g.Y
	d := math.Hypot(qx, qy)
	ux, uy := qx/d, qy/d
	// ∂angle/∂p = (-uy, ux)/d, ∂|p-c|/∂p = u; by c the opposite.
	own = [2][2]float64{{-uy / d, ux / d}, {ux, uy}}
	da, dr = make([]float64, len(g.DX)), make([]float64, len(g.DX))
	for k := range g.DX {
		da[k] = -own[0][0]*g.DX[k] - own[0][1]*g.DY[k]
		dr[k] = -own[1][0]*g.DX[k] - own[1][1]*g.DY[k] - g.DR[k]
	}
	return math.Atan2(qy, qx), d - g.R, da, dr, own
}

// Joint returns aᵀ C b, the covariance of two quantities with the gradients a and b by
// the places' coordinates.
func (p *Places) Joint(a, b []float64) float64 {
	return mat.Inner(mat.NewVecDense(len(a), a), p.Cov, mat.NewVecDense(len(b), b))
}

// SD returns the standard uncertainty of the quantity with the gradient a.
func (p *Places) SD(a []float64) float64 { return math.Sqrt(max(0, p.Joint(a, a))) }

// PitchOf returns the diameter of the least-squares circle through some of the places, and
// its standard uncertainty, mm. The error is that of FitRing.
func PitchOf(p Places, use []int) (d, u float64, err error) {
	var pts [][2]float64
	for _, i := range use {
		pts = append(pts, p.XY[i])
	}
	g, err := FitRing(pts)
	if err != nil {
		return 0, 0, err
	}
	row := make([]float64, 2*len(p.XY))
	for k, i := range use {
		row[2*i], row[2*i+1] = g.DR[2*k], g.DR[2*k+1]
	}
	return 2 * g.R, 2 * p.SD(row), nil
}
