package segment

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// maxStep is the widest angle, rad, that one flat side of a curved surface may
// span: 40 degrees and a little for rounding, so nine sides are a circle and
// the eight of an octagon, like the six of a hexagon recess, are planes.
// Common practice, no source.
const maxStep = 40.5 * math.Pi / 180

// facetBody is a curved surface found and the panels that draw it.
type facetBody struct {
	surface  facetSurface
	internal bool    // the material is outside it
	panels   []int32 // ascending
	area     float64
}

// facetFinder finds the curved surfaces of a mesh.
type facetFinder struct {
	m      *facetMesh
	panels []facetPanel
	owner  []int32 // of each panel: index into bodies, or -1
	bodies []facetBody

	vertexStart []int32 // panels at vertex v: vertexPanel[vertexStart[v]:vertexStart[v+1]]
	vertexPanel []int32
	mark        []int32 // of each panel: the number of the last growth that took it
	growth      int32

	centres *mesh.KDTree // of the panels
}

func newFacetFinder(m *facetMesh, panels []facetPanel) *facetFinder {
	f := &facetFinder{m: m, panels: panels}
	f.owner = make([]int32, len(panels))
	f.mark = make([]int32, len(panels))
	f.vertexStart = make([]int32, len(m.pts)+1)
	for i := range panels {
		f.owner[i] = -1
		for _, v := range panels[i].verts {
			f.vertexStart[v+1]++
		}
	}
	for v := range m.pts {
		f.vertexStart[v+1] += f.vertexStart[v]
	}
	f.vertexPanel = make([]int32, f.vertexStart[len(m.pts)])
	next := slices.Clone(f.vertexStart)
	centres := make([]mesh.Vec32, len(panels))
	for i := range panels {
		centres[i] = vec32(panels[i].centre)
		for _, v := range panels[i].verts {
			f.vertexPanel[next[v]] = int32(i)
			next[v]++
		}
	}
	f.centres = mesh.NewKDTree(centres, 1)
	return f
}

func (f *facetFinder) points(verts []int32) []r3.Vector {
	out := make([]r3.Vector, len(verts))
	for k, v := range verts {
		out[k] = f.m.pts[v]
	}
	return out
}

// fits reports whether a panel is a flat side of the surface: its corners lie
// on it, or inside it where another body has cut the side off; it faces the
// way the surface does; it spans no more than one step.
func (f *facetFinder) fits(s facetSurface, internal bool, id int32, tol float64) bool {
	p := &f.panels[id]
	on, off := 0, 0
	for _, v := range p.corners {
		q := f.m.pts[v]
		d := s.signed(q)
		switch {
		case math.Abs(d) <= tol:
			on++
		case d < 0 && -d*s.curvature(q) <= 1-math.Cos(maxStep/2):
			off++
		default:
			return false
		}
	}
	facing := p.normal.Dot(s.outward(p.centre))
	if internal {
		facing = -facing
	}
	if !(facing >= math.Cos(maxStep/2)) {
		return false
	}
	pts := f.points(p.corners)
	if s.turn(pts) > maxStep {
		return false
	}
	return off == 0 || on >= 2 && s.chords(p.normal, p.centre, math.Sqrt(p.area), tol)
}

// smooth reports whether a link leads on along a surface that is curved to the
// given side.
func (l panelLink) smooth(internal bool) bool {
	return l.angle <= maxStep && (l.convex != internal || l.angle < 1e-6)
}

// onSurface returns the corners of the panels that lie on s. Where they meet in
// a cone's apex, which tells a fit no direction, the middles of the straight
// edges that lead there stand in its place.
func (f *facetFinder) onSurface(s facetSurface, panels []int32, tol float64) []r3.Vector {
	off := func(q r3.Vector) bool { return math.Abs(s.signed(q)) > tol }
	all := f.corners(panels)
	out := slices.DeleteFunc(slices.Clone(all), off)
	cone, ok := s.(facetCon)
	if !ok {
		return out
	}
	for _, apex := range all {
		if apex.Distance(cone.Apex) > 100*f.m.tol {
			continue
		}
		out = slices.DeleteFunc(out, func(q r3.Vector) bool { return q == apex })
		for _, q := range slices.Clone(out) {
			out = append(out, q.Add(apex).Mul(0.5))
		}
		return out
	}
	return out
}

// corners returns the corners of the panels, each once.
func (f *facetFinder) corners(panels []int32) []r3.Vector {
	var verts []int32
	for _, id := range panels {
		verts = append(verts, f.panels[id].corners...)
	}
	slices.Sort(verts)
	return f.points(slices.Compact(verts))
}

// vertices returns all vertices of the panels, each once, ascending.
func (f *facetFinder) vertices(panels []int32) []int32 {
	var verts []int32
	for _, id := range panels {
		verts = append(verts, f.panels[id].verts...)
	}
	slices.Sort(verts)
	return slices.Compact(verts)
}

// grow collects the panels connected with the start that fit the surface,
// fitting it anew as they double, and drops those that do not hold it to the
// tolerance in the end. It returns nil where nothing is left.
func (f *facetFinder) grow(s facetSurface, internal bool, start []int32) *facetBody {
	f.growth++
	loose := 4 * f.m.tol // a surface known from its first sides reaches less far
	var in []int32
	take := func(id int32) {
		if f.mark[id] != f.growth && f.owner[id] < 0 && f.fits(s, internal, id, loose) {
			f.mark[id] = f.growth
			in = append(in, id)
		}
	}
	for _, id := range start {
		take(id)
	}
	if len(in) == 0 {
		return nil
	}
	for known := 0; known < len(in); {
		known = len(in)
		for head := 0; head < len(in) && len(in) < 2*known+4; head++ {
			for _, l := range f.panels[in[head]].links {
				if l.smooth(internal) {
					take(l.to)
				}
			}
		}
		if next, ok := s.refit(f.onSurface(s, in, loose), loose); ok {
			s = next
		}
	}
	for {
		n := len(in)
		in = slices.DeleteFunc(in, func(id int32) bool { return !f.fits(s, internal, id, f.m.tol) })
		in = f.dropWide(s, in)
		if len(in) == 0 {
			return nil
		}
		if len(in) == n {
			break
		}
		if next, ok := s.refit(f.onSurface(s, in, f.m.tol), f.m.tol); ok {
			s = next
		}
	}
	slices.Sort(in)
	b := &facetBody{surface: s, internal: internal, panels: in}
	for _, id := range in {
		b.area += f.panels[id].area
	}
	return b
}

// dropWide leaves out panels that span far more than the usual step: a flat on
// a shaft whose two edges lie on the shaft, as any chord's do.
func (f *facetFinder) dropWide(s facetSurface, in []int32) []int32 {
	type side struct {
		id   int32
		turn float64
	}
	sides := make([]side, len(in))
	total := 0.0
	for k, id := range in {
		sides[k] = side{id, s.turn(f.points(f.panels[id].corners))}
		total += sides[k].turn
	}
	slices.SortStableFunc(sides, func(a, b side) int { return cmp.Compare(a.turn, b.turn) })
	usual, sum := 0.0, 0.0
	for _, x := range sides {
		usual = x.turn
		if sum += x.turn; sum >= total/2 {
			break
		}
	}
	out := in[:0]
	for _, x := range sides {
		if x.turn <= 1.6*usual+1e-9 {
			out = append(out, x.id)
		}
	}
	slices.Sort(out)
	return out
}
