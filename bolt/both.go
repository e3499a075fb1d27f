package bolt

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// A wall seen over a third of its circumference shows its centre and radius
// poorly, while the rim may be seen all round. Both together are worth
// more, but how much of their error they share is not known: they have points in
// common, and waves of the noise that reach from one to the other (in simulated
// fused scans their correlation is 0 to 0.7). Covariance intersection (Julier and
// Uhlmann, A non-divergent estimation algorithm in the presence of unknown
// correlations, American Control Conference 1997, 2369-2373, eq. 3 and 4) states a
// covariance that is not too small whatever they share. With equal weights it is least
// squares with twice the covariance of either:
//
//	P⁻¹ = P₁⁻¹/2 + Hᵀ P₂⁻¹ H/2      P = 2 (P₁ - K H P₁)      K = P₁ Hᵀ (H P₁ Hᵀ + P₂)⁻¹
//
// P₁ is of the wall's centre and radius, P₂ of the rim's centre alone: the rim's
// radius is that of a rounded edge.

// joined returns the centre and radius of the wall c and the centre of its rim together,
// as the move from the wall's, and their covariance.
func (c *candidate) joined(rim *candidate) (move [3]float64, p [3][3]float64) {
	wall := c.cov
	wall[2][2] -= c.extraR * c.extraR
	a, b, d := wall[0][0]+rim.cov[0][0], wall[0][1]+rim.cov[0][1], wall[1][1]+rim.cov[1][1]
	det := a*d - b*b
	x, y := rim.x-c.x, rim.y-c.y
	for i := range 3 {
		kx, ky := (wall[i][0]*d-wall[i][1]*b)/det, (wall[i][1]*a-wall[i][0]*b)/det
		move[i] = kx*x + ky*y
		for j := range 3 {
			p[i][j] = 2 * (wall[i][j] - kx*wall[0][j] - ky*wall[1][j])
		}
	}
	return move, p
}

// misfit is the chi-squared of the rim's difference from the wall in the first n of (x, y,
// r), as if they shared no error.
func (c *candidate) misfit(rim *candidate, n int) float64 {
	sum := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			sum.SetSym(i, j, c.cov[i][j]+rim.cov[i][j])
		}
	}
	var root mat.Cholesky
	if !root.Factorize(sum) {
		return math.Inf(1)
	}
	d := stat.Mahalanobis(mat.NewVecDense(n, []float64{rim.x, rim.y, rim.r}[:n]),
		mat.NewVecDense(n, []float64{c.x, c.y, c.r}[:n]), &root)
	return d * d
}

// join takes the rim of the wall c in, where both agree at 5 % and it makes the centre
// surer. (A countersink need not be about the wall's axis; its rim is wider, and does not
// agree.) A rim that no uncertainty explains is noted.
func (c *candidate) join(rim *candidate) {
	if c.from != Wall || c.face != rim.face {
		return
	}
	if c.misfit(rim, 3) > (distuv.ChiSquared{K: 3}).Quantile(0.95) {
		if c.misfit(rim, 2) > farApart {
			c.rimOff = math.Hypot(rim.x-c.x, rim.y-c.y)
		}
		return
	}
	move, p := c.joined(rim)
	if p[0][0]+p[1][1] > (1-leastGain)*(c.cov[0][0]+c.cov[1][1]) {
		return
	}
	if own := c.cov[2][2] - c.extraR*c.extraR; p[2][2] > own {
		move[2], p[2][2] = 0, own
	}
	c.x, c.y, c.r = c.x+move[0], c.y+move[1], c.r+move[2]
	c.cov = [3][3]float64{{p[0][0], p[0][1]}, {p[1][0], p[1][1]}, {2: p[2][2] + c.extraR*c.extraR}}
	c.follow = [2]float64{} // how the two vary together is not known
	c.dof = min(c.dof, rim.dof)
	seen := series{theta: slices.Concat(c.series.theta, rim.series.theta)}
	slices.Sort(seen.theta)
	c.from, c.arc = Both, seen.arc()
}
