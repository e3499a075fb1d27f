package segment

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/fit"
)

// panelRegion is a surface on its way into the result.
type panelRegion struct {
	Surface
	kind   kind
	panels []int32
	area   float64
	index  int32 // into Segmentation.Surfaces
}

// segmentation fits every surface to its vertices and numbers them by area.
func (p *panelSet) segmentation(s *searcher, of []int32) *Segmentation {
	seg := &Segmentation{}
	var regions []*panelRegion
	for i := range p.list {
		if s.label[i] < 0 && p.isFace(s, int32(i)) {
			q := &p.list[i]
			plane := shape{kind: planeKind, p: q.centre, a: q.normal}
			face := support{shape: plane, nodes: []int32{int32(i)}}
			if r := p.region(&face); r != nil {
				regions = append(regions, r)
			}
		}
	}
	for k := range s.found {
		if len(s.found[k].nodes) == 0 {
			continue
		}
		if r := p.region(&s.found[k]); r != nil {
			regions = append(regions, r)
		}
	}
	slices.SortStableFunc(regions, func(a, b *panelRegion) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(b.area, a.area))
	})
	region := make([]*panelRegion, len(p.list))
	points := p.scanPoints()
	for _, r := range regions {
		r.index = int32(len(seg.Surfaces))
		for _, v := range p.vertices(r.panels) {
			r.Points = append(r.Points, points[v]...)
		}
		slices.Sort(r.Points)
		seg.add(r.Surface, p.m.scan.Origin)
		for _, q := range r.panels {
			region[q] = r
		}
	}
	seg.TriangleSurface = make([]int32, len(p.m.tri))
	for t, q := range of {
		seg.TriangleSurface[t] = -1
		if q >= 0 && region[q] != nil {
			seg.TriangleSurface[t] = region[q].index
		}
	}
	seg.PointSurface = p.pointSurface(regions)
	// No noise but the rounding of the coordinates, even over its width.
	seg.Noise = max(p.m.noise, 2*coordinateRounding(p.m.scan)/math.Sqrt(12))
	seg.Spacing = p.m.side
	return seg
}

// scanPoints lists for each vertex that stands for others the scan points that
// it stands for.
func (p *panelSet) scanPoints() [][]int32 {
	out := make([][]int32, len(p.m.pts))
	for i, c := range p.m.canon {
		out[c] = append(out[c], int32(i))
	}
	return out
}

// pointSurface names one surface a point, of those that meet there: a curved
// one before a flat one, then the smaller, whose points are the scarcer.
func (p *panelSet) pointSurface(regions []*panelRegion) []int32 {
	regions = slices.Clone(regions)
	slices.SortStableFunc(regions, func(a, b *panelRegion) int {
		return cmp.Or(cmp.Compare(min(a.kind, 1), min(b.kind, 1)), cmp.Compare(b.area, a.area))
	})
	out := make([]int32, len(p.m.pts))
	for i := range out {
		out[i] = -1
	}
	for _, r := range regions {
		for _, v := range p.vertices(r.panels) {
			out[v] = r.index
		}
	}
	for i, c := range p.m.canon {
		out[i] = out[c]
	}
	return out
}

// isFace reports whether a panel is a flat face by itself and not one of the
// facets of a freeform surface: it ends in true edges, or it is far larger
// than the facets that it runs into. Of a lone triangle among many panels all
// three sides must be edges.
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
	if len(q.tris) == 1 && len(p.list) > manyPanels {
		return soft <= loneSoft*border
	}
	if soft <= faceSoft*border || len(beside) == 0 {
		return true
	}
	slices.Sort(beside)
	return q.area >= faceLarge*beside[len(beside)/2]
}

// region fits a surface to the vertices on it. Corners that another body cut lie on the
// flat sides, inside the surface, and stay out of the fit.
func (p *panelSet) region(f *support) *panelRegion {
	pts := p.onSurface(&f.shape, f.nodes, p.m.near)
	r := &panelRegion{panels: f.nodes, kind: f.kind}
	for _, id := range f.nodes {
		r.area += p.list[id].area
	}
	start := f.shape
	switch f.kind {
	case planeKind:
		if start.a.Dot(p.list[f.nodes[0]].normal) < 0 {
			start.a = start.a.Mul(-1)
		}
		r.Area = r.area
	case cylinderKind:
		if a := start.a; [3]float64{a.X, a.Y, a.Z}[a.LargestComponent()] < 0 {
			start.a = a.Mul(-1)
		}
	}
	g, err := fit.From(start.surface(), pts, fit.Options{})
	if !p.fitted(err, g) {
		return nil
	}
	r.Fit, r.Internal = g, f.kind != planeKind && f.side < 0
	if s := shapeOf(g); s.round() {
		arc, _ := p.arc(&s, f.nodes)
		r.Arc = s1.Angle(arc)
		r.Extent[0], r.Extent[1] = p.extent(&s, f.nodes)
	}
	return r
}

// fitted reports whether a fit may be used: also one that ran out of steps at the rounding
// of its points, if they all lie on it.
func (p *panelSet) fitted(err error, g fit.Fit) bool {
	if err == nil || !errors.Is(err, fit.ErrNoConvergence) {
		return err == nil
	}
	r := g.Statistics()
	return max(-r.Min, r.Max) <= p.m.near
}
