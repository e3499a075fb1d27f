package check

import "math"

// smallestZone is the least zone about the places of a pattern, mm across, that holds the
// holes when the pattern is shifted and turned as it suits them best, each hole's own bonus
// taken off:
//
//	min over shift t and turn θ of  max over i of  2 |d_i - t - θ J r_i| - bonus_i
//
// with J a quarter turn. d are the deviations from the pattern as it was laid, and r the
// places from its centre. worst is the hole that decides. The function is convex; the
// ellipsoid method (Bland, Goldfarb & Todd, Operations Research 29 (1981) 1039-1091)
// encloses its minimum to a nanometre.
func smallestZone(d, r [][2]float64, bonus []float64) (zone float64, worst int) {
	largest, radius := 0.0, 0.0
	for i := range d {
		largest = max(largest, math.Hypot(d[i][0], d[i][1])+bonus[i])
		radius = max(radius, math.Hypot(r[i][0], r[i][1]))
	}
	if radius == 0 {
		radius = 1
	}
	// The turn is a length on the pattern's radius, so that all three are alike. At the
	// minimum no hole is farther off than at the start: each is below 8 times the largest.
	const n = 3
	var x [n]float64
	var p [n][n]float64
	for i := range n {
		p[i][i] = 64*largest*largest + 1e-12
	}
	zone = math.Inf(1)
	const near = 1e-6 // mm
	for range 3000 {
		at, value := 0, math.Inf(-1)
		var e [2]float64
		for i := range d {
			q := [2]float64{d[i][0] - x[0] + x[2]*r[i][1]/radius,
				d[i][1] - x[1] - x[2]*r[i][0]/radius}
			if v := 2*math.Hypot(q[0], q[1]) - bonus[i]; v > value {
				at, value, e = i, v, q
			}
		}
		if value < zone {
			zone, worst = value, at
		}
		l := math.Hypot(e[0], e[1])
		if l == 0 {
			break // no hole is off at all
		}
		g := [n]float64{-2 * e[0] / l, -2 * e[1] / l,
			2 * (e[0]*r[at][1] - e[1]*r[at][0]) / l / radius}
		var pg [n]float64
		gain := 0.0
		for i := range n {
			for k := range n {
				pg[i] += p[i][k] * g[k]
			}
			gain += g[i] * pg[i]
		}
		gain = math.Sqrt(max(gain, 0))
		if gain < near { // the minimum is no more than that below value
			break
		}
		for i := range n {
			x[i] -= pg[i] / gain / (n + 1)
			for k := range n {
				p[i][k] = n * n / float64(n*n-1) * (p[i][k] - 2./(n+1)*pg[i]*pg[k]/(gain*gain))
			}
		}
	}
	return zone, worst
}
