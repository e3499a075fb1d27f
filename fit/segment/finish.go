package segment

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/fit"
	"spotface/mesh"
)

// fitPoints is how many points of a surface its fit looks at, and up to twice
// as many: more would tell it better than by a hundredth of the noise, which
// is beyond what scanners are true to.
const fitPoints = 15_000

// leastPoints is the least number of points that make a surface, where there is
// noise.
const leastPoints = 24

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
	fits := make([]Segmentation, len(order)) // each of one surface, or of none
	err := chunks(ctx, len(order), 1, r.jobs, func(k, _ int) {
		r.fitted(&fits[k], &r.surfs[order[k]], lists[order[k]])
	})
	if err != nil {
		return nil, err
	}
	for k, i := range order {
		if id := out.add(&fits[k]); id != "" {
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
	out.Facets = facetsOf(r.s, out.Surface)
	return out, nil
}

// add appends the one surface of f, numbered, and returns its id; empty if f
// has none.
func (s *Segmentation) add(f *Segmentation) (id string) {
	switch {
	case len(f.Planes) > 0:
		id = fmt.Sprintf("P%d", len(s.Planes)+1)
		f.Planes[0].ID = id
		s.Planes = append(s.Planes, f.Planes[0])
	case len(f.Cylinders) > 0:
		id = fmt.Sprintf("C%d", len(s.Cylinders)+1)
		f.Cylinders[0].ID = id
		s.Cylinders = append(s.Cylinders, f.Cylinders[0])
	case len(f.Cones) > 0:
		id = fmt.Sprintf("K%d", len(s.Cones)+1)
		f.Cones[0].ID = id
		s.Cones = append(s.Cones, f.Cones[0])
	case len(f.Spheres) > 0:
		id = fmt.Sprintf("S%d", len(s.Spheres)+1)
		f.Spheres[0].ID = id
		s.Spheres = append(s.Spheres, f.Spheres[0])
	}
	return id
}

// facetsOf returns the surface of each triangle: the one that two of its
// corners or all three belong to, or -1. It returns nil for a cloud.
func facetsOf(s *mesh.Scan, surface []int32) []int32 {
	if !s.IsMesh() {
		return nil
	}
	out := make([]int32, len(s.Triangles))
	for t, c := range s.Triangles {
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
	return out
}

// fitted appends the surface f of points ps to out, finally fitted. Where the
// fit fails nothing is added, and the points belong to nothing.
func (r *run) fitted(out *Segmentation, f *surf, ps []int32) {
	in := r.inner(ps)
	pts := r.points(r.some(in, fitPoints))
	spacing := r.tex.Spacing * math.Sqrt(float64(len(in))/float64(len(pts)))
	all := r.points(r.some(ps, 20_000)) // for extent and arc
	origin := r.s.Origin
	switch f.kind {
	case planeKind:
		pf, err := fit.PlaneTo(pts, fit.Options{})
		if err != nil {
			return
		}
		pf.Cov, _ = pf.Clustered(pts, spacing)
		if pf.Normal.Dot(f.a)*f.side < 0 {
			pf = turnPlane(pf)
		}
		pf.Point = pf.Point.Add(origin)
		out.Planes = append(out.Planes, Plane{Region: Region{Points: ps}, PlaneFit: pf, Area: float64(len(ps)) * r.tex.Spacing * r.tex.Spacing})
	case cylinderKind:
		cf, err := fit.CylinderFrom(f.cylinder(), pts, fit.Options{})
		if err != nil {
			return
		}
		cf.Cov, _ = cf.Clustered(pts, spacing)
		lo, hi := along(all, cf.Point, cf.Axis)
		arc := arcOf(all, cf.Point, cf.Axis)
		cf.Point = cf.Point.Add(origin)
		out.Cylinders = append(out.Cylinders, Cylinder{Region: Region{Points: ps}, CylinderFit: cf, Internal: f.side < 0,
			Arc: s1.Angle(arc), Extent: [2]float64{lo, hi}})
	case coneKind:
		cf, err := fit.ConeFrom(f.cone(), pts, fit.Options{})
		if err != nil {
			return
		}
		cf.Cov, _ = cf.Clustered(pts, r.tex.Spacing)
		lo, hi := along(all, cf.Apex, cf.Axis)
		arc := arcOf(all, cf.Apex, cf.Axis)
		cf.Apex = cf.Apex.Add(origin)
		out.Cones = append(out.Cones, Cone{Region: Region{Points: ps}, ConeFit: cf, Internal: f.side < 0,
			Arc: s1.Angle(arc), Extent: [2]float64{lo, hi}})
	case sphereKind:
		sf, err := fit.SphereTo(pts, fit.Options{})
		if err != nil {
			return
		}
		sf.Cov, _ = sf.Clustered(pts, spacing)
		sf.Centre = sf.Centre.Add(origin)
		out.Spheres = append(out.Spheres, Sphere{Region: Region{Points: ps}, SphereFit: sf, Internal: f.side < 0})
	}
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
