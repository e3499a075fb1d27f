package segment

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// sharing is what neighbouring points of a scan are known to share of their error.
type sharing struct {
	waves fit.Waves // of the largest plane, if it is large enough to show them
	// reach is what the residuals of all surfaces together show, where there are no waves.
	reach fit.Covariance
}

// of is what points of residuals' standard deviation sigma share: noise of the same shape
// as the plane's, not of the same size.
func (s *sharing) of(sigma float64) fit.Covariance {
	if all := s.waves.Total() + s.waves.White; all > 0 {
		return s.waves.Covariance(sigma * sigma / all)
	}
	return s.reach
}

// sharing learns what neighbours share. fits are in the order of size.
func (r *run) sharing(ctx context.Context, fits []fitted) (*sharing, error) {
	s := &sharing{}
	for k := range fits {
		if f := &fits[k]; f.Fit != nil && f.kind == planeKind {
			var err error
			if s.waves, err = r.waves(ctx, f); err != nil || len(s.waves.Length) > 0 {
				return s, err
			}
			break
		}
	}
	var err error
	s.reach, err = r.reach(ctx, fits)
	return s, err
}

// waves returns the noise that a plane of some thousand points shows.
func (r *run) waves(ctx context.Context, f *fitted) (fit.Waves, error) {
	const sample, leastPoints = 2000, 2000
	n := min(sample, len(f.pts))
	if n < leastPoints || r.exact > 0 {
		return fit.Waves{}, nil
	}
	e1, e2 := geom.Basis(f.a)
	pts, height := make([]r3.Vector, n), make([]float64, n)
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for k := range n {
		v := f.pts[k*len(f.pts)/n].Sub(f.p)
		x, y := v.Dot(e1), v.Dot(e2)
		pts[k], height[k] = r3.Vector{X: x, Y: y}, v.Dot(f.a)
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	near, far := r.tex.Spacing, math.Sqrt((x1-x0)*(y1-y0))/4
	if far < 8*near {
		return fit.Waves{}, nil
	}
	return fit.LearnWaves(pts, height, near, far, f.Area, func(n int, do func(k int)) error {
		return parallel.Chunks(ctx, r.jobs, n, 1, func(k, _ int) { do(k) })
	})
}
