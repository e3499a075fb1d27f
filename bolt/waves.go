package bolt

import (
	"context"
	"math"
	"slices"
)

// The residuals round one hole hardly show the noise's long waves: a fit takes
// them for a shift. The face shows them: it has many times as many points over
// many times the hole's size. Its heights' covariance by distance is written
// as a sum of normal kernels,
//
//	C(d) = Σ a_m exp(-d²/2L_m²),  a_m ≥ 0,  and what is white,
//
// and walls and rims are taken to have noise of the same shape, not of the same
// size. True waviness of the face counts as noise, on the safe side.

// waves is the shape of noise along a surface: kernels of length L, mm, whose
// shares add up to 1. None if it is not known.
type waves struct {
	length, share []float64
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
	// Covariance by distance, in bins equal in ln d.
	const bins = 24
	var sum [bins]float64
	var n [bins]int
	type point struct{ x, y, h float64 }
	var pts []point
	var mean float64
	for k := range sample {
		i := k * len(f.pts) / sample
		if math.Abs(f.height[i]) < 5*g.noise {
			pts = append(pts, point{f.pts[i][0], f.pts[i][1], f.height[i]})
			mean += f.height[i]
		}
	}
	mean /= float64(len(pts))
	scale := bins / math.Log(far/near)
	var from [bins]float64 // squared distance at which each bin begins
	for b := range from {
		from[b] = near * near * math.Exp(2*float64(b)/scale)
	}
	type part struct {
		sum [bins]float64
		n   [bins]int
	}
	const rows = 100
	parts := make([]part, (len(pts)+rows-1)/rows)
	err := eachOf(ctx, len(parts), jobs, func(k int) {
		var c part
		for i := k * rows; i < min((k+1)*rows, len(pts)); i++ {
			p := pts[i]
			for _, q := range pts[:i] {
				d2 := (p.x-q.x)*(p.x-q.x) + (p.y-q.y)*(p.y-q.y)
				if d2 >= far*far {
					continue
				}
				b := bins - 1 // most pairs are far apart
				for b > 0 && d2 < from[b] {
					b--
				}
				c.sum[b] += (p.h - mean) * (q.h - mean)
				c.n[b]++
			}
		}
		parts[k] = c
	})
	if err != nil {
		return waves{}, err
	}
	for _, c := range parts {
		for b := range bins {
			sum[b] += c.sum[b]
			n[b] += c.n[b]
		}
	}
	var w waves
	for l := near; l < far/1.5; l *= 1.7 {
		w.length = append(w.length, l)
	}
	w.share = make([]float64, len(w.length))
	// Non-negative least squares by coordinates; a bin weighs as the square root
	// of its pairs, since pairs of one neighbourhood are alike.
	at := func(b int) float64 { return near * math.Exp((float64(b)+0.5)/scale) }
	for range 400 {
		for m := range w.length {
			var num, den float64
			for b := range bins {
				if n[b] < 20 {
					continue
				}
				r := sum[b] / float64(n[b])
				d := at(b)
				for k, l := range w.length {
					if k != m {
						r -= w.share[k] * math.Exp(-d*d/(2*l*l))
					}
				}
				x := math.Exp(-d * d / (2 * w.length[m] * w.length[m]))
				weight := math.Sqrt(float64(n[b]))
				num += weight * x * r
				den += weight * x * x
			}
			w.share[m] = 0
			if den > 0 {
				w.share[m] = max(0, num/den)
			}
		}
	}
	var total float64
	for _, a := range w.share {
		total += a
	}
	if total < 0.02*g.noise*g.noise {
		return waves{}, nil // white
	}
	for m := range w.share {
		w.share[m] /= total
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
