package bolt

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// shareRadius lets the holes of one bolt circle help each other: each hole's
// radius is drawn to that of the others by as much as the data say that they
// are alike, and its centre follows. A hole seen all round hardly moves; one
// seen half round gains much, since its centre hangs on its radius.
//
// Radii are taken as drawn from a normal distribution of standard deviation
// sameDrill. Where they differ by more than that and their uncertainties
// explain (chi-squared at 5 %), its variance is that of DerSimonian and Laird
// (Controlled Clinical Trials 7 (1986) 177-188): holes that differ share
// little.
func shareRadius(cs []*candidate, group int) {
	if len(cs) < 2 {
		return
	}
	v := make([]float64, len(cs))
	var w, w2, wr float64
	for i, c := range cs {
		// What no residual shows is the same for all of them.
		v[i] = max(c.cov[2][2]-c.extraR*c.extraR, 1e-18)
		w += 1 / v[i]
		w2 += 1 / v[i] / v[i]
		wr += c.r / v[i]
	}
	var q, q0 float64
	between := sameDrill * sameDrill
	for i, c := range cs {
		d := c.r - wr/w
		q += d * d / (v[i] + between)
		q0 += d * d / v[i]
	}
	dof := float64(len(cs) - 1)
	if q > (distuv.ChiSquared{K: dof}).Quantile(0.95) {
		between = max(between, (q0-dof)/(w-w2/w))
	}
	type change struct{ x, y, r float64 }
	moves := make([]change, len(cs))
	for i, c := range cs {
		var sw, swr float64
		for j, o := range cs {
			if j != i {
				sw += 1 / (v[j] + between)
				swr += o.r / (v[j] + between)
			}
		}
		mean, spread := swr/sw, between+1/sw // what the others say of this radius
		// r' = r + k (mean - r), and the centre follows by g: both are linear in
		// (x, y, r) and mean, with the covariance C and the variance spread.
		k := v[i] / (v[i] + spread)
		g := [3]float64{c.follow[0], c.follow[1], 1}
		for p := range 3 {
			g[p] *= k
		}
		d := mean - c.r
		moves[i] = change{g[0] * d, g[1] * d, g[2] * d}
		var cov [3][3]float64
		old := c.cov
		old[2][2] = v[i]
		for p := range 3 {
			for q := range 3 {
				cov[p][q] = old[p][q] - g[p]*old[2][q] - old[p][2]*g[q] + g[p]*g[q]*(v[i]+spread)
			}
		}
		sd := math.Sqrt(1 / sw)
		c.common = [2]float64{g[0] * sd, g[1] * sd}
		c.cov, c.shared = cov, group
		c.cov[2][2] += c.extraR * c.extraR
	}
	for i, c := range cs {
		c.x, c.y, c.r = c.x+moves[i].x, c.y+moves[i].y, c.r+moves[i].r
	}
}
