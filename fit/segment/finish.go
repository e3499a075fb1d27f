package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
	"spotface/mesh"
	"spotface/mesh/parallel"
)

// finish fits every surface to its points, numbers them by size and fills the
// result.
func (r *run) finish(ctx context.Context) (*Segmentation, error) {
	out := &Segmentation{Noise: r.tex.Noise, Spacing: r.tex.Spacing, Interior: r.deep}
	lists := r.lists()
	order := make([]int, 0, len(r.surfs))
	for i := range r.surfs {
		if len(lists[i]) >= r.least && !r.surfs[i].fades {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(len(lists[b]), len(lists[a])) })
	rename := make([]int32, len(r.surfs))
	for i := range rename {
		rename[i] = -1
	}
	fits := make([]fitted, len(order))
	err := parallel.Chunks(ctx, r.jobs, len(order), 1, func(k, _ int) {
		r.fit(&fits[k], &r.surfs[order[k]], lists[order[k]])
	})
	if err != nil {
		return nil, err
	}
	share, err := r.sharing(ctx, fits)
	if err != nil {
		return nil, err
	}
	noise := quiet(fits, r.tol.expected())
	err = parallel.Chunks(ctx, r.jobs, len(order), 1, func(k, _ int) { fits[k].weigh(share, noise) })
	if err != nil {
		return nil, err
	}
	for k, i := range order {
		if fits[k].Fit != nil {
			rename[i] = int32(len(out.Surfaces))
			out.add(fits[k].Surface, r.s.Origin)
		}
	}
	out.PointSurface = r.of
	for i, f := range out.PointSurface {
		if f >= 0 {
			out.PointSurface[i] = rename[f]
		}
	}
	out.TriangleSurface, err = trianglesOf(ctx, r.s, out.PointSurface, r.jobs)
	return out, err
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
}

// fit sets out to the surface f of points ps, finally fitted. Where the fit fails
// there is none, and the points belong to nothing.
func (r *run) fit(out *fitted, f *surf, ps []int32) {
	in := r.inner(ps)
	out.pts = r.points(r.some(in, fitPoints))
	out.spacing = r.tex.Spacing * math.Sqrt(float64(len(in))/float64(len(out.pts)))
	start := f.shape
	if f.kind == planeKind {
		start.a = f.a.Mul(f.side)
	}
	g, err := fit.From(start.surface(), out.pts, fit.Options{})
	if err != nil {
		return
	}
	out.shape = shapeOf(g)
	out.Points = ps
	if k, ok := r.drafted(out); ok {
		g, out.shape = k, shapeOf(k)
	}
	switch out.kind {
	case planeKind:
		out.Area = float64(len(ps)) * r.tex.Spacing * r.tex.Spacing
	case cylinderKind, coneKind:
		if out.kind == coneKind && out.extreme() {
			return // all its points show it to be a slice of something else
		}
		all := r.points(r.some(ps, extentPoints))
		out.Extent[0], out.Extent[1] = along(all, out.p, out.a)
		out.Arc = s1.Angle(arcOf(all, out.p, out.a))
	}
	if out.kind != planeKind && out.Arc.Radians() < narrowArc && r.narrow(ps) {
		return
	}
	out.Internal = out.kind != planeKind && f.side < 0
	out.Fit = g
}

// narrow reports whether next to none of a surface's points are away from its edge: what
// goes less than half way round and is as narrow is the rounding of an edge, or a strip
// of a chamfer, whose radius and axis it does not show.
func (r *run) narrow(ps []int32) bool {
	n := 0
	for _, p := range ps {
		if r.deep[p] {
			n++
		}
	}
	return r.exact == 0 && float64(n) < narrowShare*float64(len(ps))
}

// drafted returns the cone that a whole cylinder is: one whose ends differ by more than
// noise, and by more than form and noise explain.
func (r *run) drafted(f *fitted) (g fit.Fit, ok bool) {
	if f.kind != cylinderKind || arcOf(f.pts, f.p, f.a) < wholeTurn {
		return nil, false
	}
	if rise, ratio := f.taper(); rise < r.tol.floor/sigmas || ratio < draftGain {
		return nil, false
	}
	start := f.tapered(f.pts)
	g, err := fit.From(start.surface(), f.pts, fit.Options{})
	if err != nil {
		return nil, false
	}
	cone := shapeOf(g)
	return g, !cone.extreme()
}

// weigh gives the surface the covariance that clusters of its points have, or that
// what neighbours share elsewhere gives it, whichever variance is larger; and its form.
func (f *fitted) weigh(share *sharing, noise float64) {
	if f.Fit == nil {
		return
	}
	if f.kind == planeKind || f.kind == cylinderKind {
		f.Form = formOf(f, noise, f.Arc.Radians())
	}
	f.Fit, _ = fit.Clustered(f.Fit, f.pts, f.spacing, share.of(f.Fit.Statistics().Sigma))
}

// inner returns the points of ps away from the surface's edge, where scanners
// round, if a third of the points are left, else all.
func (r *run) inner(ps []int32) []int32 {
	in := make([]int32, 0, len(ps))
	for _, p := range ps {
		if r.deep[p] {
			in = append(in, p)
		}
	}
	if 3*len(in) < len(ps) || len(in) < 30 {
		return ps
	}
	return in
}
