package bolt

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// The residuals round one hole hardly show the noise's long waves: a fit takes
// them for a shift. The face shows them: it has many times as many points over
// many times the hole's size. Its heights' covariance by distance is written
// as a sum of normal kernels,
//
//	C(d) = Σ a_m exp(-d²/2L_m²),  a_m ≥ 0,  and what is white,
//
// and walls and rims are taken to have noise of the same shape, not of the same
// size. True waviness of the face counts as noise, on the safe side; that it is bent as
// a whole does not.

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
// the products of the pairs within d, two more than wavesIn asks for. For exp(-t/r)
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
	bendOf(pts).takeOut(height)
	var variance float64
	for _, h := range height {
		variance += h * h / float64(len(pts))
	}
	const bins, rows = 24, 100
	parts := make([]*fit.Covariogram, (len(pts)+rows-1)/rows)
	err := eachOf(ctx, len(parts), jobs, func(k int) {
		parts[k] = fit.NewCovariogram(near, far, bins)
		parts[k].Add(pts, height, k*rows, min((k+1)*rows, len(pts)), far)
	})
	if err != nil {
		return waves{}, err
	}
	all := fit.NewCovariogram(near, far, bins)
	for _, c := range parts {
		all.Merge(c)
	}
	w := wavesIn(all, near, far, variance, f.area, few(pts))
	w.pairs, w.far = math.Pi/2*float64(len(pts))*float64(len(pts))/f.extent(), far
	return w, nil
}

// few returns the bend over some of the points, enough to know what of the waves it takes.
func few(pts []r3.Vector) bend {
	const enough = 200
	var some []r3.Vector
	n := min(enough, len(pts))
	for k := range n {
		some = append(some, pts[k*len(pts)/n])
	}
	return bendOf(some)
}

// wavesIn takes the shape of the noise out of its covariance by distance, from near
// to far, mm; variance is that of all of it, mm². From both the bend out has taken its
// part. area is the face's, mm².
//
// It is white where the mean products of pairs are no larger than chance makes them
// (three standard deviations, up to whatever distance they are looked at). Where the
// kernels together have more than the variance, the shortest lose it: too much of
// them would make the long waves, which move a circle, small by comparison.
func wavesIn(c *fit.Covariogram, near, far, variance, area float64, out bend) waves {
	var sum, square, z float64
	for _, b := range c.Bins() {
		sum += b.Sum
		square += b.Square
		z = max(z, sum/math.Sqrt(max(square, 1e-300)))
	}
	if z < 3 {
		return waves{}
	}
	var seen []fit.CovarianceBin
	var at []int // where these are in c
	for i, b := range c.Bins() {
		if b.Pairs >= leastPairs {
			seen, at = append(seen, b), append(at, i)
		}
	}
	var w waves
	var kernels [][]float64
	var taken []float64
	for l := near; l < far/1.5; l *= 1.7 {
		of, inBin := out.taken(l, c)
		w.length, taken = append(w.length, l), append(taken, of)
		kernel := make([]float64, len(seen))
		for i, b := range seen {
			kernel[i] = math.Exp(-b.Distance*b.Distance/(2*l*l)) - inBin[at[i]]
		}
		kernels = append(kernels, kernel)
	}
	w.share = fit.Shares(seen, kernels)
	var total float64
	for m, a := range w.share {
		variance += a * taken[m]
		w.share[m] *= waveDoubt(w.length[m], area)
		total += w.share[m]
	}
	if total < 0.02*variance {
		return waves{}
	}
	for m := range w.share {
		less := min(w.share[m], max(0, total-variance))
		w.share[m] -= less
		total -= less
	}
	w.ratio = total / max(variance-total, 1e-3*variance)
	for m := range w.share {
		w.share[m] /= total
	}
	return w
}

// waveDoubt is the factor by which more of waves of length L is taken than the one face
// shows, of area A: by the standard deviation of what such faces show, half at most. The
// sample variance of normal noise has the relative variance 2πL²/A: twice its correlation
// squared, integrated over the plane, over A. Where a face has few waves they are more
// often too few than too many by as much, and of circles whose centres they move that
// much intervals would be too short.
func waveDoubt(length, area float64) float64 {
	return 1 + min(math.Sqrt(2*math.Pi*length*length/area), 0.5)
}

// leastPairs of a bin are enough to look at their mean product.
const leastPairs = 20

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
