package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
	"spotface/fit/noise"
	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// finish fits every surface to its points, numbers them by size and fills the
// result.
func (r *run) finish(ctx context.Context, lists [][]int32) (*Segmentation, error) {
	out := &Segmentation{Noise: r.tex.Noise, Spacing: r.tex.Spacing, Interior: r.deep}
	order := make([]int, 0, len(r.surfs))
	for i := range r.surfs {
		if len(lists[i]) >= r.least && !r.surfs[i].fades {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(len(lists[b]), len(lists[a]))
	})
	fits := make([]fitted, len(order))
	err := parallel.Chunks(ctx, r.jobs, len(order), 1, func(k, _ int) {
		r.fit(&fits[k], &r.surfs[order[k]], lists[order[k]])
	})
	if err != nil {
		return nil, err
	}
	if err = out.take(ctx, r.s, fits, r.exact == 0, r.tol.expected(), r.jobs); err != nil {
		return nil, err
	}
	out.TriangleSurface, err = trianglesOf(ctx, r.s, out.PointSurface, r.jobs)
	return out, err
}

// take numbers the surfaces that were fitted and gives them their points, the last of
// those that claim one. Where the residuals are noise, of standard deviation sigma, and
// form, the surfaces are weighed by them first.
func (s *Segmentation) take(ctx context.Context, m *mesh.Scan, fits []fitted, noisy bool, sigma float64,
	jobs int) error {
	fits = slices.DeleteFunc(fits, func(f fitted) bool { return f.Fit == nil })
	if noisy {
		shared, unit, err := sharedNoise(ctx, fits, jobs)
		if err == nil {
			err = parallel.Chunks(ctx, jobs, len(fits), 1, func(k, _ int) { fits[k].weigh(shared, unit, sigma) })
		}
		if err != nil {
			return err
		}
	}
	s.PointSurface = slices.Repeat([]int32{-1}, m.Len())
	for k := range fits {
		for _, p := range fits[k].Points {
			s.PointSurface[p] = int32(k)
		}
		s.add(fits[k].Surface, m.Origin)
	}
	return nil
}

// trianglesOf returns the surface of each triangle: the one that two of its
// corners or all three belong to, or -1. It returns nil for a cloud.
func trianglesOf(ctx context.Context, s *mesh.Scan, surface []int32, jobs int) ([]int32, error) {
	if !s.IsMesh() {
		return nil, nil
	}
	out := make([]int32, len(s.Triangles))
	err := parallel.Chunks(ctx, jobs, len(out), lookEvery, func(lo, hi int) {
		for t := lo; t < hi; t++ {
			c := &s.Triangles[t]
			f, g, h := surface[c[0]], surface[c[1]], surface[c[2]]
			switch {
			case f == g || f == h:
				out[t] = f
			case g == h:
				out[t] = g
			default:
				out[t] = -1
			}
		}
	})
	return out, err
}

// fitted is a surface fitted for good, with the points of its fit. Its Fit is nil
// where that failed.
type fitted struct {
	Surface
	shape
	pts     []r3.Vector
	spacing float64 // between pts, mm
	panels  []int32 // of a drawing
}

// to fits the surface s to the points of f for good, and reports whether that succeeds.
func (f *fitted) to(s *surf) bool {
	f.shape = s.shape
	if s.kind == planeKind {
		f.a = s.a.Mul(s.side)
	}
	g, err := fit.From(f.surface(), f.pts, fit.Options{})
	if err != nil {
		return false
	}
	f.Fit, f.shape, f.Internal = g, shapeOf(g), s.kind != planeKind && s.side < 0
	return true
}

// fit sets out to the surface f of points ps, finally fitted. Where the fit fails
// there is none, and the points belong to nothing.
func (r *run) fit(out *fitted, f *surf, ps []int32) {
	some, deep, of := r.interior(ps)
	out.pts = r.points(some)
	out.spacing = r.tex.Spacing * math.Sqrt(float64(of)/float64(len(some)))
	out.Points = ps
	if !out.to(f) {
		return
	}
	if cone, ok := r.drafted(out); ok {
		*out = cone
	}
	switch out.kind {
	case planeKind:
		out.Area = float64(len(ps)) * r.tex.Spacing * r.tex.Spacing
	case cylinderKind, coneKind:
		if out.kind == coneKind && out.extreme() {
			out.Fit = nil // all its points show it to be a slice of something else
			return
		}
		all := r.points(r.some(ps, extentPoints))
		out.Extent[0], out.Extent[1] = along(all, out.p, out.a, astrayCut)
		out.Arc = s1.Angle(arcOf(all, out.p, out.a))
	}
	// What goes less than half way round and has next to no points away from its edge is
	// the rounding of an edge, or a strip of a chamfer, whose radius and axis it does not
	// show.
	if out.kind != planeKind && out.Arc.Radians() < narrowArc && r.exact == 0 &&
		float64(deep) < narrowShare*float64(len(ps)) {
		out.Fit = nil
	}
}

// drafted returns the cone that a whole cylinder is: one whose ends differ by more than
// noise, and by more than form and noise explain.
func (r *run) drafted(f *fitted) (cone fitted, ok bool) {
	if f.kind != cylinderKind || arcOf(f.pts, f.p, f.a) < wholeTurn {
		return cone, false
	}
	if rise, ratio := f.taper(); rise < r.tol.floor/sigmas || ratio < draftGain {
		return cone, false
	}
	cone = *f
	ok = cone.to(&surf{shape: f.tapered(f.pts)}) && !cone.extreme()
	cone.Internal = f.Internal
	return cone, ok
}

// interior returns how many points of ps are away from the surface's edge, where
// scanners round, and some of them; of all points if these are few. of is the number
// that some are taken from.
func (r *run) interior(ps []int32) (some []int32, deep, of int) {
	in := slices.DeleteFunc(slices.Clone(ps), func(p int32) bool { return !r.deep[p] })
	if deep = len(in); float64(deep) < interiorShare*float64(len(ps)) || deep < interiorLeast {
		in = ps
	}
	return r.some(in, fitPoints), deep, len(in)
}

// weigh gives the surface the covariance that clusters of its points have, or that
// what neighbours share elsewhere gives it, whichever variance is larger; and its form.
func (f *fitted) weigh(shared *noise.Model, unit, sigma float64) {
	if f.kind == planeKind || f.kind == cylinderKind {
		f.Form = formOf(f, sigma, f.Arc.Radians())
	}
	f.Fit = fit.Correlated(f.Fit, f.pts, shared, unit)
}

// extent is the diagonal of the box about the points, mm.
func (f *fitted) extent() float64 {
	lo, hi := geom.Bounds(f.pts)
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

// sharedNoise learns what neighbours share of their error: from the largest plane, if it is
// large enough to show it, of which a surface has its own size; else from the residuals of
// all surfaces. fits are in the order of size. unit is the mean square of what it is
// learned from; nil where nothing shows it.
func sharedNoise(ctx context.Context, fits []fitted, jobs int) (m *noise.Model, unit float64, err error) {
	patches, scale, unit := tiles(fits)
	if len(patches) == 0 {
		patches, scale, unit = pooled(fits)
	}
	if len(patches) == 0 {
		return nil, 0, nil
	}
	m, err = noise.Learn(ctx, patches, nil, scale, jobs)
	return m, unit, err
}

// tiles returns what the largest plane shows of noise, about a scale, mm, and the mean
// square of its residuals, mm²; nothing where it is too small.
func tiles(fits []fitted) (out []noise.Patch, scale, square float64) {
	k := slices.IndexFunc(fits, func(f fitted) bool { return f.kind == planeKind })
	if k < 0 || len(fits[k].pts) < tilePoints {
		return nil, 0, 0
	}
	f := &fits[k]
	pts, height := f.residuals(len(f.pts))
	e1, e2 := geom.Basis(f.a)
	for i, p := range pts {
		v := p.Sub(f.p)
		pts[i] = r3.Vector{X: v.Dot(e1), Y: v.Dot(e2)}
	}
	scale = math.Sqrt(f.Area) / tileParts
	return noise.Face(pts, height, f.Area, scale), scale, meanSquare(height)
}

// pooled returns the residuals of the largest surfaces, each in units of its own, and the
// scale about which they show noise, mm: longer waves a fit takes out.
func pooled(fits []fitted) (out []noise.Patch, scale, square float64) {
	for k := range fits {
		if f := &fits[k]; len(out) < pooledSurfaces && len(f.pts) >= pooledPoints && f.Fit.Statistics().Sigma > 0 {
			out = append(out, fit.Cells(f.Fit, f.pts))
			scale = max(scale, f.extent()/pooledParts)
		}
	}
	return out, scale, 1
}
