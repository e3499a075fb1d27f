package fit

import (
	"math"
	"slices"
)

// mixture maximises the likelihood of noise and outliers from a start.
func mixture(s candidateShape, c *cloud, opt RobustOptions) (Rejection, candidateShape) {
	n := len(c.x)
	r := make([]float64, n)
	abs := make([]float64, n)
	s.residuals(c, r)
	for i, v := range r {
		abs[i] = math.Abs(v)
	}
	slices.Sort(abs)
	// Quartile and median of half normal noise are 0.3186 and 0.6745 σ; outliers
	// make them those of more than a quarter and a half of the good ones.
	sigma := min(abs[n/4]/0.3186, abs[n/2]/0.6745)
	sigma = max(sigma*(1+5/float64(max(n-s.need(), 1))), c.grain())
	w := *c
	w.sw = make([]float64, n)
	p := make([]float64, n)
	var dens [2]float64 // of outliers next to the shape, below and above it
	share := 0.2
	for round := range 60 {
		if round == 0 {
			dens = [2]float64{0.1 / abs[n-1], 0.1 / abs[n-1]}
		} else {
			dens, share = outlierDensity(r, p, sigma)
		}
		var sum, ss, moved float64
		norm := (1 - share) / (math.Sqrt(2*math.Pi) * sigma)
		for i, v := range r {
			u := v / sigma
			good := norm * math.Exp(-u*u/2)
			q := good / (good + dens[side(v)])
			moved = max(moved, math.Abs(q-p[i]))
			p[i] = q
			sum += q
			ss += q * v * v
		}
		free := sum - float64(s.need())
		if free < 1 {
			break
		}
		sigma = max(math.Sqrt(ss/free), c.grain())
		w.n = 0
		for i, q := range p {
			w.sw[i] = 0
			if q >= 0.02 {
				w.sw[i] = math.Sqrt(q)
				w.n++
			}
		}
		if w.n < s.need() || !s.refit(&w, 2) || round > 1 && moved < 3e-3 {
			break
		}
		s.residuals(c, r)
	}
	out := Rejection{Weights: p, Noise: sigma * c.scale, Share: share}
	for i, q := range p {
		if q < 0.5 {
			out.Rejected++
		}
		if q < 0.02 {
			p[i] = 0
		}
	}
	return out, s
}

// outlierDensity estimates how dense outliers are next to the shape, per unit
// of residual and point, on each side, and their share of the points. What is
// needed is the density where good and bad meet, some three σ out: it is
// counted between 2.5 and 6.5 σ, less the good ones to be expected there, with
// what an even spread out to the furthest would put there as a prior worth one
// count. A burr that stands off leaves the gap empty, a chamfer fills it.
func outlierDensity(r, p []float64, sigma float64) (dens [2]float64, share float64) {
	const from, to = 2.5, 6.5
	const tail = 0.00621 // of normal noise beyond 2.5 σ on one side
	n := float64(len(r))
	var reach, seen, bad [2]float64
	for i, v := range r {
		k, a := side(v), math.Abs(v)
		reach[k] = max(reach[k], a)
		bad[k] += 1 - p[i]
		if a > from*sigma && a <= to*sigma {
			seen[k]++
		}
	}
	share = min((bad[0]+bad[1])/n, 0.9)
	for k := range dens {
		even := bad[k] / max(reach[k], to*sigma) * (to - from) * sigma
		found := max(seen[k]-tail*n*(1-share), 0)
		count := 0.0
		if even > 0 {
			count = (1 + found) / (1/even + 1)
		}
		// A fifth of a count at least: beyond 4 σ or so nothing is good.
		dens[k] = max(count, 0.2) / (n * (to - from) * sigma)
	}
	return dens, share
}

func side(v float64) int {
	if v > 0 {
		return 1
	}
	return 0
}
