package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/fit"
)

// segmentation fits every surface to its vertices and numbers them by area. of is the panel
// of each triangle. A point goes to one surface of those that meet there: a curved one
// before a flat one, then the smaller, whose points are the scarcer.
func (p *panelSet) segmentation(ctx context.Context, s *searcher, of []int32, jobs int) (*Segmentation, error) {
	found := slices.Clone(s.found)
	for i := range p.list {
		if s.label[i] < 0 && p.isFace(s, int32(i)) {
			plane := shape{kind: planeKind, p: p.list[i].centre, a: p.list[i].normal}
			found = append(found, support{surf: surf{shape: plane}, nodes: []int32{int32(i)}})
		}
	}
	type region struct {
		fitted
		panels []int32
		area   float64
	}
	var regions []region
	for k := range found {
		f := &found[k]
		r := region{panels: f.nodes}
		for _, id := range f.nodes {
			r.area += p.list[id].area
		}
		var ok bool
		if r.fitted, ok = p.region(f, r.area); ok {
			regions = append(regions, r)
		}
	}
	slices.SortStableFunc(regions, func(a, b region) int {
		return cmp.Or(cmp.Compare(a.Fit.Kind(), b.Fit.Kind()), cmp.Compare(b.area, a.area))
	})
	if p.m.noise > 0 { // of a thinned scan, whose vertices share their noise
		fits := make([]fitted, len(regions))
		for k, r := range regions {
			fits[k] = r.fitted
		}
		shared, unit, err := sharedNoise(ctx, fits, jobs)
		if err != nil {
			return nil, err
		}
		for k := range regions {
			regions[k].weigh(shared, unit, p.m.noise)
		}
	}
	points := make([][]int32, len(p.m.pts)) // that each vertex replaces
	for i, c := range p.m.canon {
		points[c] = append(points[c], int32(i))
	}
	seg := &Segmentation{Spacing: p.m.side,
		// No noise but the rounding of the coordinates, even over its width.
		Noise:           max(p.m.noise, 2*coordinateRounding(p.m.scan)/math.Sqrt(12)),
		PointSurface:    slices.Repeat([]int32{-1}, len(p.m.pts)),
		TriangleSurface: slices.Repeat([]int32{-1}, len(p.m.tri))}
	panel := slices.Repeat([]int32{-1}, len(p.list))
	for k, r := range regions {
		for _, v := range p.vertices(r.panels) {
			r.Points = append(r.Points, points[v]...)
		}
		slices.Sort(r.Points)
		for _, i := range r.Points {
			seg.PointSurface[i] = int32(k)
		}
		for _, q := range r.panels {
			panel[q] = int32(k)
		}
		seg.add(r.Surface, p.m.scan.Origin)
	}
	for t, q := range of {
		if q >= 0 {
			seg.TriangleSurface[t] = panel[q]
		}
	}
	return seg, nil
}

// isFace reports whether a panel is a flat face by itself and not one of the
// facets of a freeform surface: it ends in true edges, or it is far larger
// than the facets that it runs into.
func (p *panelSet) isFace(s *searcher, id int32) bool {
	q := &p.list[id]
	if !p.wide([]int32{id}) {
		return false // a sliver, whose normal is chance
	}
	soft, border := 0.0, 0.0
	var beside []float64
	for _, l := range q.links {
		border += l.length
		if s.label[l.to] < 0 && l.angle <= sharpTurn {
			soft += l.length
			beside = append(beside, p.list[l.to].area)
		}
	}
	for _, t := range q.tris {
		border += p.m.rim[t]
	}
	if soft <= faceSoft*border || len(beside) == 0 {
		return true
	}
	slices.Sort(beside)
	return q.area >= faceLarge*beside[len(beside)/2]
}

// region fits a surface to the vertices on it. Corners that another body cut lie on the
// flat sides, inside the surface, and stay out of the fit.
func (p *panelSet) region(f *support, area float64) (r fitted, ok bool) {
	if len(f.nodes) == 0 {
		return r, false
	}
	start := f.shape
	if f.kind == planeKind {
		r.Area = area
		if start.a.Dot(p.list[f.nodes[0]].normal) < 0 {
			start.a = start.a.Mul(-1)
		}
	}
	r.pts = p.onSurface(&f.shape, f.nodes, p.m.near)
	g, err := fit.From(start.surface(), r.pts, fit.Options{})
	if err != nil {
		return r, false
	}
	r.Fit, r.shape, r.Internal = g, shapeOf(g), f.kind != planeKind && f.side < 0
	if r.round() {
		arc, _ := p.arc(&r.shape, f.nodes)
		r.Arc = s1.Angle(arc)
		r.Extent[0], r.Extent[1] = p.extent(&r.shape, f.nodes)
	}
	return r, true
}
