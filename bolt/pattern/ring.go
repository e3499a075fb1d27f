package pattern

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/fit"
)

// RingFit is the least-squares circle through places, and how each of its parameters
// follows each place.
type RingFit struct {
	X, Y, R float64
	// Derivatives of X, Y and R by the places' coordinates, x of place i in 2i, y in 2i+1:
	// zero for a place that the circle was not laid on.
	DX, DY, DR []float64

	xy [][2]float64
}

// FitRing fits the circle that minimises Σ (|p - c| - r)² over the places use, or all where
// none is named. The error says why there is none: fewer than three places, or places on a
// line (fit.ErrDegenerate).
//
// Its Jacobian is that at the minimum, by the implicit function theorem on the normal
// equations, with d = |p - c|, u = (p - c)/d, e = d - r:
//
//	F_c = -Σ e u = 0        F_r = -Σ e = 0
//	M = ∂(e u)/∂p = uuᵀ + (e/d)(I - uuᵀ) = -∂(e u)/∂c
//	∂F/∂(c, r) = Σ [M u; uᵀ 1]        ∂F/∂p = -[M; uᵀ]
//	∂(c, r)/∂p = -(∂F/∂(c, r))⁻¹ ∂F/∂p
//
// Second-order terms in e stay in: a hole 0.4 degrees off moves the centre by
// more than first order would say.
func FitRing(xy [][2]float64, use ...int) (*RingFit, error) {
	if len(use) == 0 {
		use = Without(len(xy))
	}
	n := len(use)
	var pts []r3.Vector
	for _, i := range use {
		pts = append(pts, r3.Vector{X: xy[i][0], Y: xy[i][1]})
	}
	c, err := fit.Circle2DTo(pts, fit.Options{})
	if err != nil && !errors.Is(err, fit.ErrNoConvergence) {
		return nil, fmt.Errorf("bolt circle through %d holes: %w", n, err)
	}
	g := &RingFit{X: c.Centre.X, Y: c.Centre.Y, R: c.Radius, xy: xy}
	// Newton's steps from there: exact where the fit has converged, and where it stopped at
	// rounding level.
	for range 20 {
		h := mat.NewDense(3, 3, nil)         // ∂F/∂(c, r)
		b := mat.NewDense(3, 2*len(xy), nil) // -∂F/∂p
		f := mat.NewVecDense(3, nil)         // -F
		for _, i := range use {
			qx, qy := xy[i][0]-g.X, xy[i][1]-g.Y
			d := math.Hypot(qx, qy)
			if d == 0 {
				return nil, fmt.Errorf("bolt circle: a hole lies at its centre")
			}
			ux, uy, e := qx/d, qy/d, d-g.R
			k := e / d
			m := [3][3]float64{{ux*ux + k*(1-ux*ux), ux * uy * (1 - k), ux},
				{ux * uy * (1 - k), uy*uy + k*(1-uy*uy), uy}, {ux, uy, 1}}
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
			return nil, fmt.Errorf("bolt circle: the holes do not tell its centre: %w", fit.ErrDegenerate)
		}
		var s mat.VecDense
		s.MulVec(&inv, f)
		if mat.Norm(&s, 2) <= 1e-13*(g.R+math.Hypot(g.X, g.Y)) {
			gain.Mul(&inv, b)
			g.DX, g.DY, g.DR = gain.RawRowView(0), gain.RawRowView(1), gain.RawRowView(2)
			return g, nil
		}
		g.X, g.Y, g.R = g.X+s.AtVec(0), g.Y+s.AtVec(1), g.R+s.AtVec(2)
	}
	return nil, fmt.Errorf("bolt circle through %d holes: %w", n, fit.ErrNoConvergence)
}

// Seen returns the angle, rad, of place i about the circle's centre and how far out of it
// the place lies, with the derivatives of both by all places, as DX.
func (g *RingFit) Seen(i int) (angle, radial float64, da, dr []float64) {
	qx, qy := g.xy[i][0]-g.X, g.xy[i][1]-g.Y
	d := math.Hypot(qx, qy)
	ux, uy := qx/d, qy/d
	// ∂angle/∂p = (-uy, ux)/d, ∂|p-c|/∂p = u; by c the opposite.
	da, dr = make([]float64, len(g.DX)), make([]float64, len(g.DX))
	for k := range da {
		da[k] = (uy*g.DX[k] - ux*g.DY[k]) / d
		dr[k] = -ux*g.DX[k] - uy*g.DY[k] - g.DR[k]
	}
	da[2*i], da[2*i+1] = da[2*i]-uy/d, da[2*i+1]+ux/d
	dr[2*i], dr[2*i+1] = dr[2*i]+ux, dr[2*i+1]+uy
	return math.Atan2(qy, qx), d - g.R, da, dr
}

// Joint returns aᵀ C b, the covariance of two quantities with the gradients a and b by
// the places' coordinates.
func (p *Places) Joint(a, b []float64) float64 {
	return mat.Inner(mat.NewVecDense(len(a), a), p.Cov, mat.NewVecDense(len(b), b))
}

// SD returns the standard uncertainty of the quantity with the gradient a.
func (p *Places) SD(a []float64) float64 { return math.Sqrt(max(0, p.Joint(a, a))) }
