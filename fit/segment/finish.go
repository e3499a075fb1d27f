package segment

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
	"spotface/mesh"
)

// finish fits every surface to its points, numbers them by size and fills the
// result.
func (r *run) finish(ctx context.Context) (*Segmentation, error) {
	out := &Segmentation{Noise: r.tex.Noise, Spacing: r.tex.Spacing, Inner: r.deep}
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
	err := chunks(ctx, len(order), 1, r.jobs, func(k, _ int) {
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
	err = chunks(ctx, len(order), 1, r.jobs, func(k, _ int) { fits[k].weigh(share, noise) })
	if err != nil {
		return nil, err
	}
	for k, i := range order {
		if id := out.add(&fits[k], r.s.Origin); id != "" {
			rename[i] = int32(len(out.IDs))
			out.IDs = append(out.IDs, id)
		}
	}
	out.Surface = r.of
	for i, f := range out.Surface {
		if f >= 0 {
			out.Surface[i] = rename[f]
		}
	}
	out.Facets, err = facetsOf(ctx, r.s, out.Surface, r.jobs)
	return out, err
}

// add appends the one surface of f, numbered and at the scan's origin, and returns
// its id; empty if f has none.
func (s *Segmentation) add(fitted *fitted, origin r3.Vector) (id string) {
	f := &fitted.surface
	switch {
	case len(f.Planes) > 0:
		p := &f.Planes[0]
		p.ID = fmt.Sprintf("P%d", len(s.Planes)+1)
		p.Point = p.Point.Add(origin)
		s.Planes = append(s.Planes, *p)
		return p.ID
	case len(f.Cylinders) > 0:
		c := &f.Cylinders[0]
		c.ID = fmt.Sprintf("C%d", len(s.Cylinders)+1)
		c.Point = c.Point.Add(origin)
		s.Cylinders = append(s.Cylinders, *c)
		return c.ID
	case len(f.Cones) > 0:
		c := &f.Cones[0]
		c.ID = fmt.Sprintf("K%d", len(s.Cones)+1)
		c.Apex = c.Apex.Add(origin)
		s.Cones = append(s.Cones, *c)
		return c.ID
	case len(f.Spheres) > 0:
		p := &f.Spheres[0]
		p.ID = fmt.Sprintf("S%d", len(s.Spheres)+1)
		p.Centre = p.Centre.Add(origin)
		s.Spheres = append(s.Spheres, *p)
		return p.ID
	}
	return ""
}

// facetsOf returns the surface of each triangle: the one that two of its
// corners or all three belong to, or -1. It returns nil for a cloud.
func facetsOf(ctx context.Context, s *mesh.Scan, surface []int32, jobs int) ([]int32, error) {
	if !s.IsMesh() {
		return nil, nil
	}
	out := make([]int32, len(s.Triangles))
	err := chunks(ctx, len(out), lookEvery, jobs, func(lo, hi int) {
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

// fit sets out to the surface f of points ps, finally fitted. Where the fit fails
// nothing is set, and the points belong to nothing.
func (r *run) fit(out *fitted, f *surf, ps []int32) {
	in := r.inner(ps)
	out.pts = r.points(r.some(in, fitPoints))
	out.spacing = r.tex.Spacing * math.Sqrt(float64(len(in))/float64(len(out.pts)))
	all := r.points(r.some(ps, 20_000)) // for extent and arc
	s := &out.surface
	switch f.kind {
	case planeKind:
		pf, err := fit.PlaneTo(out.pts, fit.Options{})
		if err != nil {
			return
		}
		out.shape = fromPlane(pf.Plane)
		s.Planes = append(s.Planes, Plane{Region: Region{Points: ps}, PlaneFit: pf, Area: float64(len(ps)) * r.tex.Spacing * r.tex.Spacing})
		out.turned = pf.Normal.Dot(f.a)*f.side < 0
	case cylinderKind:
		cf, err := fit.CylinderTo(out.pts, fit.Options{Start: f.cylinder()})
		if err != nil {
			return
		}
		out.shape = fromCylinder(cf.Cylinder)
		lo, hi := along(all, cf.Point, cf.Axis)
		arc := arcOf(all, cf.Point, cf.Axis)
		s.Cylinders = append(s.Cylinders, Cylinder{Region: Region{Points: ps}, CylinderFit: cf, Internal: f.side < 0,
			Arc: s1.Angle(arc), Extent: [2]float64{lo, hi}})
	case coneKind:
		cf, err := fit.ConeTo(out.pts, fit.Options{Start: f.cone()})
		if err != nil {
			return
		}
		out.shape = fromCone(cf.Cone)
		if out.extreme() {
			return // all its points show it to be a slice of something else
		}
		lo, hi := along(all, cf.Apex, cf.Axis)
		arc := arcOf(all, cf.Apex, cf.Axis)
		s.Cones = append(s.Cones, Cone{Region: Region{Points: ps}, ConeFit: cf, Internal: f.side < 0,
			Arc: s1.Angle(arc), Extent: [2]float64{lo, hi}})
	case sphereKind:
		sf, err := fit.SphereTo(out.pts, fit.Options{})
		if err != nil {
			return
		}
		out.shape = fromSphere(sf.Sphere)
		s.Spheres = append(s.Spheres, Sphere{Region: Region{Points: ps}, SphereFit: sf, Internal: f.side < 0})
	}
}

// weigh gives the surface the covariance that clusters of its points have, or that
// what neighbours share elsewhere gives it, whichever variance is larger; and its form.
func (f *fitted) weigh(share *sharing, noise float64) {
	s := &f.surface
	switch {
	case len(s.Planes) > 0:
		s.Planes[0].Form = formOf(f, noise, 0)
		p := &s.Planes[0].PlaneFit
		*p = f.weighed(*p, share).(fit.PlaneFit)
		if f.turned {
			*p = p.Reversed()
		}
	case len(s.Cylinders) > 0:
		s.Cylinders[0].Form = formOf(f, noise, s.Cylinders[0].Arc.Radians())
		c := &s.Cylinders[0].CylinderFit
		*c = f.weighed(*c, share).(fit.CylinderFit)
	case len(s.Cones) > 0:
		c := &s.Cones[0].ConeFit
		*c = f.weighed(*c, share).(fit.ConeFit)
	case len(s.Spheres) > 0:
		p := &s.Spheres[0].SphereFit
		*p = f.weighed(*p, share).(fit.SphereFit)
	}
}

func (f *fitted) weighed(g fit.Fit, share *sharing) fit.Fit {
	out, _ := fit.Clustered(g, f.pts, f.spacing, share.of(g.Statistics().Sigma))
	return out
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
