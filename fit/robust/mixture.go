package robust

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// mixture maximises the likelihood of noise and outliers from a start. grain, mm, is
// what the points' coordinates are sure to.
func (s *search) mixture(shape fit.Shape, pts []r3.Vector, grain float64) Outliers {
	n := len(pts)
	r, abs := make([]float64, n), make([]float64, n)
	for i, q := range pts {
		r[i] = shape.Distance(q)
		abs[i] = math.Abs(r[i])
	}
	slices.Sort(abs)
	// Outliers make quartile and median those of more than a quarter and a half of
	// the points that belong.
	sigma := max(min(abs[n/4]/quartile, abs[n/2]/median), grain)
	w, p := make([]float64, n), make([]float64, n)
	var dens [2]float64 // of outliers next to the shape, below and above it
	share := startShare
	for round := range rounds {
		if round == 0 {
			d := startDensity / max(abs[n-1], to*sigma)
			dens = [2]float64{d, d}
		} else {
			dens, share = density(r, p, sigma)
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
		free := sum - float64(s.need)
		if free < 1 {
			break
		}
		sigma = max(math.Sqrt(ss/free), grain)
		in := 0
		for i, q := range p {
			w[i] = 0
			if q >= least {
				w[i] = q
				in++
			}
		}
		if in < s.need {
			break
		}
		next := s.refit(shape, pts, w)
		if next == nil || round > 1 && moved < settled {
			break
		}
		shape = next
		for i, q := range pts {
			r[i] = shape.Distance(q)
		}
	}
	out := Outliers{Weights: p, Noise: sigma, Share: share}
	for i, q := range p {
		out.note(i, q)
	}
	return out
}

// density estimates how dense outliers are next to the shape, per mm of residual and
// point, on each side, and their share of the points. What is needed is the density
// where good and bad meet, some three standard deviations out: it is counted there,
// less the good ones to be expected, with what an even spread out to the furthest
// would put there as a prior worth one count. A burr that lies apart leaves the gap
// empty, a chamfer fills it.
func density(r, p []float64, sigma float64) (dens [2]float64, share float64) {
	n := float64(len(r))
	var furthest, seen, bad [2]float64
	for i, v := range r {
		k, a := side(v), math.Abs(v)
		furthest[k] = max(furthest[k], a)
		bad[k] += 1 - p[i]
		if a > from*sigma && a <= to*sigma {
			seen[k]++
		}
	}
	share = min((bad[0]+bad[1])/n, maxShare)
	for k := range dens {
		even := bad[k] / max(furthest[k], to*sigma) * (to - from) * sigma
		found := max(seen[k]-tail*n*(1-share), 0)
		count := 0.0
		if even > 0 {
			count = (1 + found) / (1/even + 1)
		}
		dens[k] = max(count, leastCount) / (n * (to - from) * sigma)
	}
	return dens, share
}

func side(v float64) int {
	if v > 0 {
		return 1
	}
	return 0
}
