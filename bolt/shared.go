package bolt

import "math"

// sameDrill is the least standard deviation, mm, allowed between the radii of
// holes of one pattern: one drill makes holes of one diameter within a few
// hundredths of a millimetre (common practice, no source).
const sameDrill = 0.005

// shareRadius lets the holes of one bolt circle help each other: each hole's
// radius is drawn to that of the others by as much as the data say that they
// are alike, and its centre follows. A hole seen all round hardly moves; one
// seen half round gains much, since its centre hangs on its radius.
//
// Radii are taken as drawn from a normal distribution, its variance by
// DerSimonian and Laird (Controlled Clinical Trials 7 (1986) 177-188), not
// below sameDrill²: where the holes differ, nothing is shared.
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
	var q float64
	for i, c := range cs {
		d := c.r - wr/w
		q += d * d / v[i]
	}
	between := max(sameDrill*sameDrill, (q-float64(len(cs)-1))/(w-w2/w))
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
		// Their word joins as one more observation of δr.
		a := c.info.a
		a[2][2] += 1 / spread
		beta, cov, ok := solveSPD(a, [3]float64{0, 0, (mean - c.r) / spread})
		if !ok {
			return
		}
		moves[i] = change{beta[0], beta[1], beta[2]}
		sd := math.Sqrt(1 / sw)
		// ∂centre/∂mean, times the sd of what the holes have in common.
		c.common = [2]float64{cov[0][2] / spread * sd, cov[1][2] / spread * sd}
		extra := c.extraR * c.extraR
		c.cov, c.shared = cov, group
		c.cov[2][2] += extra
	}
	for i, c := range cs {
		c.x, c.y, c.r = c.x+moves[i].x, c.y+moves[i].y, c.r+moves[i].r
	}
}
