package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/s1"
)

// segmentation fits every surface to its vertices and numbers them by area. of is the panel
// of each triangle. A point goes to one surface of those that meet there: a curved one
// before a flat one, then the smaller, whose points are the scarcer.
func (p *panelSet) segmentation(ctx context.Context, s *searcher, of []int32, jobs int) (*Segmentation, error) {
	found := slices.Clone(s.found)
	for i := range p.list {
		if s.label[i] < 0 && p.isFace(s, int32(i)) {
			plane := surf{shape: shape{kind: planeKind, p: p.list[i].centre, a: p.list[i].normal}, side: 1}
			found = append(found, support{surf: plane, nodes: []int32{int32(i)}})
		}
	}
	points := make([][]int32, len(p.m.pts)) // that each vertex replaces
	for i, c := range p.m.canon {
		points[c] = append(points[c], int32(i))
	}
	var fits []fitted
	for k := range found {
		f := fitted{panels: found[k].nodes}
		if !p.fit(&f, &found[k]) {
			continue
		}
		for _, v := range p.vertices(f.panels) {
			f.Points = append(f.Points, points[v]...)
		}
		slices.Sort(f.Points)
		fits = append(fits, f)
	}
	slices.SortStableFunc(fits, func(a, b fitted) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(b.Area, a.Area))
	})
	seg := &Segmentation{Spacing: p.m.side,
		// No noise but the rounding of the coordinates, even over its width.
		Noise: max(p.m.noise, 2*coordinateRounding(p.m.scan)/math.Sqrt(12))}
	// The vertices of a thinned scan share their noise.
	if err := seg.take(ctx, p.m.scan, fits, p.m.noise > 0, p.m.noise, jobs); err != nil {
		return nil, err
	}
	panel := slices.Repeat([]int32{-1}, len(p.list))
	for k, f := range fits {
		for _, q := range f.panels {
			panel[q] = int32(k)
		}
	}
	seg.TriangleSurface = slices.Repeat([]int32{-1}, len(p.m.tri))
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

// fit sets out to the surface s, fitted to the vertices on it, and reports whether that
// succeeds. Corners that another body cut lie on the flat sides, inside the surface, and
// stay out of the fit.
func (p *panelSet) fit(out *fitted, s *support) bool {
	out.pts = p.onSurface(&s.shape, s.nodes, p.m.near)
	if len(s.nodes) == 0 || !out.to(&s.surf) {
		return false
	}
	for _, id := range s.nodes {
		out.Area += p.list[id].area
	}
	if out.round() {
		arc, _ := p.arc(&out.shape, s.nodes)
		out.Arc = s1.Angle(arc)
		out.Extent[0], out.Extent[1] = p.extent(&out.shape, s.nodes)
	}
	return true
}
