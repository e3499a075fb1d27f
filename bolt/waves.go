package bolt

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"

	"spotface/mesh/parallel"
)

// The residuals round one hole hardly show the noise's long waves: a fit takes
// them for a shift. The face shows them: it has many times as many points over
// many times the hole's size (see fit.LearnWaves). Walls and rims are taken to have
// noise of the same shape, not of the same size. True waviness of the face counts as
// noise, on the safe side; that it is bent as a whole does not.

// waves is the shape of noise along a surface: kernels of length L, mm, whose
// shares add up to 1. None if it is white, or not known.
type waves struct {
	length, share []float64
	ratio         float64 // of the variance that hangs together to the white
	// pairs is how many pairs of the face's points are within d mm, over d².
	pairs float64
	far   float64 // distance to which pairs were looked at, mm
}

// show tells whether waves of length r, mm, would have been seen in the face had a
// tenth of its noise hung together over them: five standard deviations of the sum of
// the products of the pairs within d, two more than fit.LearnWaves asks for. For exp(-t/r)
// that is, in standard deviations, where d = 1.8 r makes it largest,
//
//	z = 0.1 √pairs d · 2/d² ∫₀ᵈ t exp(-t/r) dt = 0.2 √pairs r²/d (1 - (1 + d/r) exp(-d/r))
//
// and half as much again for exp(-t²/2r²).
func (w waves) show(r float64) bool {
	if len(w.length) > 0 {
		return true
	}
	d := min(1.8*r, w.far)
	return d > 0 && 0.2*math.Sqrt(w.pairs)*r*r/d*(1-(1+d/r)*math.Exp(-d/r)) > 5
}

// wavesOf estimates the face's noise. It needs a face of some thousand points.
func wavesOf(ctx context.Context, f *face, g grain, jobs int) (waves, error) {
	const sample, leastPoints = 3000, 2000
	if len(f.pts) < leastPoints || g.drawn() {
		return waves{}, nil
	}
	far := math.Sqrt(f.extent()) / 4
	near := g.spacing
	if far < 8*near {
		return waves{}, nil
	}
	var pts []r3.Vector
	var height []float64
	n := min(sample, len(f.pts))
	for k := range n {
		i := k * len(f.pts) / n
		if math.Abs(f.height[i]) < 5*g.noise {
			pts = append(pts, r3.Vector{X: f.pts[i][0], Y: f.pts[i][1]})
			height = append(height, f.height[i])
		}
	}
	if len(pts) == 0 {
		return waves{}, nil // its points are not near the face at all
	}
	all, err := fit.LearnWaves(pts, height, near, far, f.area, func(n int, do func(k int)) error {
		return parallel.Chunks(ctx, jobs, n, 1, func(k, _ int) { do(k) })
	})
	if err != nil {
		return waves{}, err
	}
	w := waves{pairs: math.Pi / 2 * float64(len(pts)) * float64(len(pts)) / f.extent(), far: far}
	if total := all.Total(); total > 0 {
		w.length, w.ratio = all.Length, total/all.White
		for _, a := range all.Share {
			w.share = append(w.share, a/total)
		}
	}
	return w, nil
}

// at returns the correlation of two rows' means at a distance across, each row
// depth long along the wall.
func (w waves) at(across, depth float64) float64 {
	var c float64
	for m, l := range w.length {
		if w.share[m] == 0 {
			continue
		}
		k := w.share[m] * math.Exp(-across*across/(2*l*l))
		// Mean of exp(-(z-z')²/2L²) over z, z' in [0, depth].
		if t := depth / (l * math.Sqrt2); t > 1e-3 {
			k *= (math.Sqrt(math.Pi)*t*math.Erf(t) + math.Exp(-t*t) - 1) / (t * t)
		}
		c += k
	}
	return c
}

// reach is the distance, mm, at which the correlation has fallen to 1/e; 0 of
// no waves.
func (w waves) reach() float64 {
	if len(w.length) == 0 {
		return 0
	}
	lo, hi := 0.0, 2*slices.Max(w.length)
	for range 60 {
		if mid := (lo + hi) / 2; w.at(mid, 0) > 1/math.E {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
