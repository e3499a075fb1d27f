package segment

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// How far along the surface neighbours share their error shows in the residuals of
// all surfaces of a scan together. Their covariance by distance is written as a
// sum of normal kernels,
//
//	C(d) = Σ a_m exp(-d²/2L_m²),   a_m ≥ 0
//
// by non-negative least squares (Lawson and Hanson, Solving least squares problems,
// 1974, chapter 23; here by coordinates). A fit takes out the slowest of the waves, so
// that distances count up to a quarter of a surface only.
const (
	reachRegions = 16  // surfaces looked at, the largest
	reachLeast   = 400 // points of one
	reachSample  = 500 // points of one whose pairs are looked at
	reachBins    = 20
	reachSure    = 4 // standard errors by which what is shared must stand out
)

// pairSums are sums over pairs of points by distance.
type pairSums struct {
	n, sum, square [reachBins]float64
}

// reach returns what neighbours share, by the squares of distances; nil where none
// is seen. fits are in the order of size.
func (r *run) reach(ctx context.Context, fits []fitted) (fit.Covariance, error) {
	near := r.tex.Spacing
	far := 0.0
	var use []*fitted
	for k := range fits {
		if f := &fits[k]; len(use) < reachRegions && len(f.pts) >= reachLeast && f.found() {
			far = max(far, f.extent()/4)
			use = append(use, f)
		}
	}
	if far < 4*near || r.exact > 0 {
		return nil, nil
	}
	scale := reachBins / math.Log(far/near)
	sums := make([]pairSums, len(use))
	err := chunks(ctx, len(use), 1, r.jobs, func(k, _ int) { use[k].pairs(&sums[k], near, scale) })
	if err != nil {
		return nil, err
	}
	var all pairSums
	for k := range sums {
		for b := range reachBins {
			all.n[b] += sums[k].n[b]
			all.sum[b] += sums[k].sum[b]
			all.square[b] += sums[k].square[b]
		}
	}
	var at, c, weight []float64 // what stands out, to the first distance where nothing does
	for b := range reachBins {
		if all.n[b] < 50 {
			continue
		}
		if all.sum[b] < reachSure*math.Sqrt(all.square[b]) {
			if len(at) > 0 {
				break
			}
			continue
		}
		at = append(at, near*math.Exp((float64(b)+0.5)/scale))
		c = append(c, all.sum[b]/all.n[b])
		weight = append(weight, math.Sqrt(all.n[b]))
	}
	if len(at) < 2 {
		return nil, nil
	}
	length, share := normalKernels(at, c, weight, near, at[len(at)-1])
	return func(d2 float64) float64 {
		var v float64
		for m, l := range length {
			if share[m] > 0 && d2 < 20*l*l {
				v += share[m] * math.Exp(-d2/(2*l*l))
			}
		}
		return v
	}, nil
}

// normalKernels fits sums of normal kernels of lengths from near to far to c, given
// at distances.
func normalKernels(at, c, weight []float64, near, far float64) (length, share []float64) {
	for l := near; l <= far; l *= 1.7 {
		length = append(length, l)
	}
	share = make([]float64, len(length))
	rest := append([]float64(nil), c...)
	for range 200 {
		for m, l := range length {
			var num, den float64
			for b, d := range at {
				x := math.Exp(-d * d / (2 * l * l))
				num += weight[b] * x * (rest[b] + share[m]*x)
				den += weight[b] * x * x
			}
			next := max(0, num/den)
			for b, d := range at {
				rest[b] -= (next - share[m]) * math.Exp(-d*d/(2*l*l))
			}
			share[m] = next
		}
	}
	return length, share
}

// fitted is a surface fitted for good, with the points of its fit.
type fitted struct {
	surface Segmentation // of one surface, or of none
	shape
	pts     []r3.Vector
	spacing float64 // between pts, mm
	turned  bool    // the plane's normal is to be turned round
}

// found reports whether the fit came to a surface.
func (f *fitted) found() bool {
	s := &f.surface
	return len(s.Planes)+len(s.Cylinders)+len(s.Cones)+len(s.Spheres) > 0
}

// extent is the diagonal of the box about the points, mm.
func (f *fitted) extent() float64 {
	lo, hi := f.pts[0], f.pts[0]
	for _, p := range f.pts {
		lo = r3.Vector{X: min(lo.X, p.X), Y: min(lo.Y, p.Y), Z: min(lo.Z, p.Z)}
		hi = r3.Vector{X: max(hi.X, p.X), Y: max(hi.Y, p.Y), Z: max(hi.Z, p.Z)}
	}
	return hi.Sub(lo).Norm()
}

// pairs sums up the products of the residuals of pairs of points, up to a quarter
// of the surface apart.
func (f *fitted) pairs(out *pairSums, near, scale float64) {
	n := min(len(f.pts), reachSample)
	p, e := make([]r3.Vector, n), make([]float64, n)
	var from [reachBins]float64
	for b := range from {
		from[b] = near * near * math.Exp(2*float64(b)/scale)
	}
	most := math.Pow(f.extent()/4, 2)
	for i := range n {
		p[i] = f.pts[i*len(f.pts)/n]
		e[i], _ = f.at(p[i])
	}
	for i := range n {
		for j := range i {
			d2 := p[i].Sub(p[j]).Norm2()
			if d2 >= most || d2 < from[0] {
				continue
			}
			b := reachBins - 1
			for d2 < from[b] {
				b--
			}
			v := e[i] * e[j]
			out.n[b]++
			out.sum[b] += v
			out.square[b] += v * v
		}
	}
}
