package bolt

import "slices"

// priorStray is how far holes of a pattern stray from their circle, mm, before
// anything is known of them: an assumption, no source. It counts as much as two holes.
const priorStray = 0.1

// ringWeights returns one weight a hole, or nil for equal ones, and the variance,
// mm², of how far holes truly stray from a circle.
//
// The measurand is the least-squares circle, all holes alike; only a hole seen far
// worse than the others, with more than four times their median variance, counts
// less, in proportion, so that it does not spoil the centre for all. What a hole
// strays by belongs to that variance: it is in the measurand, and weights that
// differ take another circle, see strayed.
func ringWeights(holes []Hole, pts [][2]float64) (w []float64, stray float64) {
	v := make([]float64, len(holes))
	for i, h := range holes {
		v[i] = (h.CentreCov[0][0] + h.CentreCov[1][1]) / 2
	}
	s := slices.Sorted(slices.Values(v))
	mid := s[(len(s)-1)/2]
	if len(holes) == 3 || mid <= 0 || s[len(s)-1] <= 4*mid {
		return nil, 0
	}
	stray = strayOf(pts, v, mid)
	limit := 4 * (mid + stray)
	if s[len(s)-1]+stray <= limit {
		return nil, 0
	}
	for i := range v {
		v[i] = min(1, limit/(v[i]+stray))
	}
	return v, stray
}

// strayOf estimates the variance of how far points of variances v, their median
// mid, stray from a circle: by the moment of their distances from the one that is
// weighted by 1/v (DerSimonian and Laird, Controlled Clinical Trials 7 (1986)
// 177-188, with three parameters instead of one), and priorStray. It is the mean of
// the inverse gamma distribution that both make, larger for how little is known.
func strayOf(pts [][2]float64, v []float64, mid float64) float64 {
	prior := 2 * priorStray * priorStray
	free := float64(len(pts) - 3)
	w := make([]float64, len(v))
	for i := range v {
		w[i] = min(mid/v[i], 1e6)
	}
	g, err := fitRing(pts, w)
	if err != nil {
		return prior / free
	}
	var q, c float64
	for i, p := range pts {
		_, radial, _, dr, own := g.seen(p)
		left := (dr[2*i]+own[1][0])*own[1][0] + (dr[2*i+1]+own[1][1])*own[1][1]
		q += w[i] / mid * radial * radial
		c += w[i] / mid * left
	}
	return prior/free + max(0, (q-free)/c)
}

// strayed adds to c, the covariance of what ring g with unequal weights was fitted
// to, that of how far the circle of equal weights, even, lies from it because the
// holes stray:
//
//	(x, y, r) - (x, y, r)_even = (D - D_even) δ,  Cov(δ) = stray I
func (c covariance) strayed(g, even ring, stray float64) {
	d := [3][]float64{g.dx, g.dy, g.dr}
	e := [3][]float64{even.dx, even.dy, even.dr}
	n := len(g.dx) - 3
	for a := range 3 {
		for b := range 3 {
			for k := range n {
				c[n+a][n+b] += stray * (d[a][k] - e[a][k]) * (d[b][k] - e[b][k])
			}
		}
	}
}
