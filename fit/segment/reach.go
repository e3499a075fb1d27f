package segment

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/mesh/parallel"
)

// reach returns what neighbours share, by the squares of distances; nil where none
// is seen. fits are in the order of size.
func (r *run) reach(ctx context.Context, fits []fitted) (fit.Covariance, error) {
	near, far := r.tex.Spacing, 0.0
	var use []*fitted
	for k := range fits {
		if f := &fits[k]; len(use) < reachRegions && len(f.pts) >= reachLeast && f.Fit != nil {
			far = max(far, f.extent()/4)
			use = append(use, f)
		}
	}
	if far < 4*near || r.exact > 0 {
		return nil, nil
	}
	parts := make([]*fit.Covariogram, len(use))
	err := parallel.Chunks(ctx, r.jobs, len(use), 1, func(k, _ int) {
		parts[k] = fit.NewCovariogram(near, far, reachBins)
		pts, e := use[k].residuals(reachSample)
		parts[k].Add(pts, e, 0, len(pts), use[k].extent()/4)
	})
	if err != nil {
		return nil, err
	}
	all := fit.NewCovariogram(near, far, reachBins)
	for _, c := range parts {
		all.Merge(c)
	}
	var seen []fit.CovarianceBin // what stands out, to the first distance where nothing does
	for _, b := range all.Bins() {
		switch {
		case b.Pairs < reachPairs:
		case b.Sum >= reachSure*math.Sqrt(b.Square):
			seen = append(seen, b)
		case len(seen) > 0:
			return kernelsOf(seen, near), nil
		}
	}
	return kernelsOf(seen, near), nil
}

// kernelsOf is what the bins show to be shared; nil for fewer than two.
func kernelsOf(seen []fit.CovarianceBin, near float64) fit.Covariance {
	if len(seen) < 2 {
		return nil
	}
	var length []float64
	for l := near; l <= seen[len(seen)-1].Distance; l *= 1.7 {
		length = append(length, l)
	}
	share := fit.NormalKernels(seen, length)
	return func(d2 float64) float64 {
		var v float64
		for m, l := range length {
			if share[m] > 0 && d2 < 20*l*l {
				v += share[m] * math.Exp(-d2/(2*l*l))
			}
		}
		return v
	}
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

// residuals returns some of the points and how far each lies off the surface, mm.
func (f *fitted) residuals(most int) (pts []r3.Vector, e []float64) {
	n := min(len(f.pts), most)
	for i := range n {
		p := f.pts[i*len(f.pts)/n]
		d, _ := f.at(p)
		pts, e = append(pts, p), append(e, d)
	}
	return pts, e
}
