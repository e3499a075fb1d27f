package segment

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
)

// facetRegion is a surface on its way into the result.
type facetRegion struct {
	panels []int32
	area   float64
	name   func(id string, points []int32) // stores it under its number
	kind   int                             // index into kinds: P C K S
	index  int32                           // into IDs
}

// segmentation fits every surface to its vertices and numbers them by area.
func (f *facetFinder) segmentation(of []int32) *Segmentation {
	seg := &Segmentation{}
	var regions []*facetRegion
	for i := range f.panels {
		if f.owner[i] < 0 && f.isFace(int32(i)) {
			if r := f.planeRegion(seg, int32(i)); r != nil {
				regions = append(regions, r)
			}
		}
	}
	for i := range f.bodies {
		if r := f.bodyRegion(seg, &f.bodies[i]); r != nil {
			regions = append(regions, r)
		}
	}
	slices.SortStableFunc(regions, func(a, b *facetRegion) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(b.area, a.area))
	})
	const kinds = "PCKS"
	var count [len(kinds)]int
	region := make([]*facetRegion, len(f.panels))
	points := f.scanPoints()
	for _, r := range regions {
		r.index = int32(len(seg.IDs))
		count[r.kind]++
		id := fmt.Sprintf("%c%d", kinds[r.kind], count[r.kind])
		seg.IDs = append(seg.IDs, id)
		var at []int32
		for _, v := range f.vertices(r.panels) {
			at = append(at, points[v]...)
		}
		slices.Sort(at)
		r.name(id, at)
		for _, p := range r.panels {
			region[p] = r
		}
	}
	seg.Facets = make([]int32, len(f.m.tri))
	for t, p := range of {
		seg.Facets[t] = -1
		if p >= 0 && region[p] != nil {
			seg.Facets[t] = region[p].index
		}
	}
	seg.Surface = f.pointSurface(region)
	// No noise but the rounding of the coordinates, even over its width.
	seg.Noise = 2 * coordinateRounding(f.m.scan) / math.Sqrt(12)
	seg.Spacing = f.medianSide()
	return seg
}

// scanPoints lists for each vertex that stands for others the scan points that
// it stands for.
func (f *facetFinder) scanPoints() [][]int32 {
	out := make([][]int32, len(f.m.pts))
	for i, c := range f.m.canon {
		out[c] = append(out[c], int32(i))
	}
	return out
}

// pointSurface names one surface a point, of those that meet there: a curved
// one before a flat one, then the smaller, whose points are the scarcer.
func (f *facetFinder) pointSurface(region []*facetRegion) []int32 {
	out := make([]int32, len(f.m.pts))
	for i, c := range f.m.canon {
		var best *facetRegion
		for _, p := range f.vertexPanel[f.vertexStart[c]:f.vertexStart[c+1]] {
			r := region[p]
			if r == nil || r == best {
				continue
			}
			if best == nil || cmp.Or(cmp.Compare(min(best.kind, 1), min(r.kind, 1)), cmp.Compare(r.area, best.area), cmp.Compare(r.index, best.index)) < 0 {
				best = r
			}
		}
		out[i] = -1
		if best != nil {
			out[i] = best.index
		}
	}
	return out
}

// isFace reports whether a panel is a flat face by itself and not one of the
// facets of a freeform surface: it ends in true edges, or it is far larger
// than the facets that it runs into. Of a lone triangle among many panels all
// three sides must be edges.
func (f *facetFinder) isFace(id int32) bool {
	p := &f.panels[id]
	if !slices.ContainsFunc(p.tris, func(t int32) bool { return f.m.height[t] > 20*f.m.tol }) {
		return false // a sliver, whose normal is chance
	}
	soft := 0.0
	var beside []float64
	for _, l := range p.links {
		if f.owner[l.to] < 0 && l.angle <= sharpTurn {
			soft += l.length
			beside = append(beside, f.panels[l.to].area)
		}
	}
	if len(p.tris) == 1 && len(f.panels) > 100 {
		return soft <= 0.01*p.border
	}
	if soft <= 0.5*p.border || len(beside) == 0 {
		return true
	}
	slices.Sort(beside)
	return p.area >= 20*beside[len(beside)/2]
}

func (f *facetFinder) planeRegion(seg *Segmentation, id int32) *facetRegion {
	p := &f.panels[id]
	g, err := fit.PlaneTo(f.points(p.verts), fit.Options{})
	if err != nil {
		return nil
	}
	if g.Normal.Dot(p.normal) < 0 {
		g = g.Reversed()
	}
	g.Point = g.Point.Add(f.m.scan.Origin)
	return &facetRegion{panels: []int32{id}, area: p.area, kind: 0, name: func(id string, at []int32) {
		seg.Planes = append(seg.Planes, Plane{Region: Region{ID: id, Points: at}, PlaneFit: g, Area: p.area})
	}}
}

// bodyRegion fits a curved surface to the vertices on it. Corners that another
// body cut lie on the flat sides, inside the surface, and stay out of the fit.
func (f *facetFinder) bodyRegion(seg *Segmentation, b *facetBody) *facetRegion {
	pts := f.onSurface(b.surface, b.panels, f.m.tol)
	origin := f.m.scan.Origin
	r := &facetRegion{panels: b.panels, area: b.area}
	arc := func(point, axis r3.Vector) s1.Angle {
		a, _ := f.arc(b, point, axis)
		return s1.Angle(a)
	}
	switch s := b.surface.(type) {
	case facetCyl:
		if i := s.Axis.LargestComponent(); [3]float64{s.Axis.X, s.Axis.Y, s.Axis.Z}[i] < 0 {
			s.Axis = s.Axis.Mul(-1)
		}
		g, err := fit.CylinderTo(pts, fit.Options{Start: s.Cylinder})
		if !facetFitted(err, g.Residuals, f.m.tol) {
			return nil
		}
		c := Cylinder{Internal: b.internal, Arc: arc(g.Point, g.Axis)}
		c.Extent[0], c.Extent[1] = f.extent(b, g.Point, g.Axis)
		g.Point = g.Point.Add(origin)
		c.CylinderFit = g
		r.kind = 1
		r.name = func(id string, at []int32) {
			c.Region = Region{ID: id, Points: at}
			seg.Cylinders = append(seg.Cylinders, c)
		}
	case facetCon:
		g, err := fit.ConeTo(pts, fit.Options{Start: s.Cone})
		if !facetFitted(err, g.Residuals, f.m.tol) {
			return nil
		}
		c := Cone{Internal: b.internal, Arc: arc(g.Apex, g.Axis)}
		c.Extent[0], c.Extent[1] = f.extent(b, g.Apex, g.Axis)
		g.Apex = g.Apex.Add(origin)
		c.ConeFit = g
		r.kind = 2
		r.name = func(id string, at []int32) {
			c.Region = Region{ID: id, Points: at}
			seg.Cones = append(seg.Cones, c)
		}
	case facetBall:
		g, err := fit.SphereTo(pts, fit.Options{})
		if !facetFitted(err, g.Residuals, f.m.tol) {
			return nil
		}
		g.Centre = g.Centre.Add(origin)
		r.kind = 3
		r.name = func(id string, at []int32) {
			seg.Spheres = append(seg.Spheres, Sphere{Region: Region{ID: id, Points: at}, SphereFit: g, Internal: b.internal})
		}
	}
	return r
}

// medianSide returns the median length of the triangles' sides.
func (f *facetFinder) medianSide() float64 {
	var sides []float64
	for _, c := range f.m.tri {
		for k := range 3 {
			sides = append(sides, f.m.pts[c[k]].Distance(f.m.pts[c[(k+1)%3]]))
		}
	}
	if len(sides) == 0 {
		return 0
	}
	slices.Sort(sides)
	return sides[len(sides)/2]
}
