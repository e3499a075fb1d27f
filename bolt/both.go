package bolt

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// A wall seen over a third of its circumference shows its centre and radius
// poorly, while the rim may be seen all round. Both together are worth
// more, but how much of their error they share is not known: they have points in
// common, and waves of the noise that reach from one to the other (in simulated
// fused scans their correlation is 0 to 0.7). Covariance intersection (Julier and
// Uhlmann, A non-divergent estimation algorithm in the presence of unknown
// correlations, American Control Conference 1997, 2369-2373, eq. 3 and 4) states a
// covariance that is not too small whatever they share:
//
//	P⁻¹ = ω P₁⁻¹ + (1-ω) Hᵀ P₂⁻¹ H      0 < ω ≤ 1
//
// P₁ is of the wall's centre and radius, P₂ of the rim's centre alone: the rim's
// radius is that of a rounded edge. Any ω holds; the best for the centre is not the
// best for the radius, and each has its own.

// joined returns the centre and radius that ω makes of the wall c and the centre of
// its rim, as the move from the wall's, and their covariance.
func (c *candidate) joined(rim *candidate, omega float64) (move [3]float64, p [3][3]float64, ok bool) {
	wall := c.cov
	wall[2][2] -= c.extraR * c.extraR
	info, ok1 := invert3(wall)
	centre, ok2 := invert3([3][3]float64{
		{rim.cov[0][0], rim.cov[0][1]}, {rim.cov[1][0], rim.cov[1][1]}, {2: 1},
	})
	if !ok1 || !ok2 {
		return move, p, false
	}
	for i := range 3 {
		for j := range 3 {
			info[i][j] *= omega
			if i < 2 && j < 2 {
				info[i][j] += (1 - omega) * centre[i][j]
			}
		}
	}
	if p, ok = invert3(info); !ok {
		return move, p, false
	}
	d := [2]float64{rim.x - c.x, rim.y - c.y}
	var pull [2]float64
	for i := range 2 {
		pull[i] = (1 - omega) * (centre[i][0]*d[0] + centre[i][1]*d[1])
	}
	for i := range 3 {
		move[i] = p[i][0]*pull[0] + p[i][1]*pull[1]
	}
	return move, p, true
}

// best returns the ω for which of is least, 1 where the wall alone is as good. The
// inverse of what is linear in ω is convex.
func (c *candidate) best(rim *candidate, of func(p [3][3]float64) float64) float64 {
	at := func(omega float64) float64 {
		_, p, ok := c.joined(rim, omega)
		if !ok {
			return math.Inf(1)
		}
		return of(p)
	}
	if omega := golden(0, 1, 30, at); at(omega) < (1-leastGain)*at(1) {
		return omega
	}
	return 1
}

// agrees reports whether the wall and its rim may be of one circle: their
// difference's chi-squared at 5 %, as if they shared no error.
func (c *candidate) agrees(rim *candidate) bool {
	sum := c.cov
	for i := range 3 {
		for j := range 3 {
			sum[i][j] += rim.cov[i][j]
		}
	}
	inv, ok := invert3(sum)
	d := [3]float64{rim.x - c.x, rim.y - c.y, rim.r - c.r}
	var q float64
	for i := range d {
		for j := range d {
			q += d[i] * inv[i][j] * d[j]
		}
	}
	return ok && q < distuv.ChiSquared{K: 3}.Quantile(0.95)
}

// join takes the rim of the wall c in, where both agree and it helps. (A countersink
// need not be about the wall's axis; its rim is wider, and does not agree.)
func (c *candidate) join(rim *candidate) {
	if c.from != Wall || c.face != rim.face {
		return
	}
	if !c.agrees(rim) {
		c.apart(rim)
		return
	}
	forCentre := c.best(rim, func(p [3][3]float64) float64 { return p[0][0] + p[1][1] })
	forRadius := c.best(rim, func(p [3][3]float64) float64 { return p[2][2] })
	if forCentre == 1 && forRadius == 1 {
		return
	}
	m, p, _ := c.joined(rim, forCentre)
	n, q, _ := c.joined(rim, forRadius)
	c.x, c.y, c.r = c.x+m[0], c.y+m[1], c.r+n[2]
	c.cov = [3][3]float64{{p[0][0], p[0][1]}, {p[1][0], p[1][1]}, {2: q[2][2] + c.extraR*c.extraR}}
	c.follow = [2]float64{} // how the two vary together is not known
	c.dof = min(c.dof, rim.dof)
	seen := arcSeries{theta: slices.Concat(c.series.theta, rim.series.theta)}
	slices.Sort(seen.theta)
	c.from, c.arc = Both, seen.arc()
}

// apart notes how far the rim's centre lies from the wall's, where no uncertainty
// explains it.
func (c *candidate) apart(rim *candidate) {
	var sum [2][2]float64
	for i := range 2 {
		for j := range 2 {
			sum[i][j] = c.cov[i][j] + rim.cov[i][j]
		}
	}
	x, y := rim.x-c.x, rim.y-c.y
	det := sum[0][0]*sum[1][1] - sum[0][1]*sum[1][0]
	if sum[1][1]*x*x-2*sum[0][1]*x*y+sum[0][0]*y*y > farApart*det {
		c.rimOff = math.Hypot(x, y)
	}
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
