package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// facetMesh is a tessellated mesh prepared for a walk over its triangles.
// Coordinates are mm from the scan's origin.
type facetMesh struct {
	scan  *mesh.Scan
	tol   float64 // a vertex this close to a surface lies on it
	size  float64 // diagonal of the part
	pts   []r3.Vector
	canon []int32    // point -> the point that stands for it
	open  []bool     // whether a point lies on an open edge
	tri   [][3]int32 // corners that stand for the scan's

	normal []r3.Vector // of each triangle, out of the material; zero if it has none
	area   []float64
	height []float64 // smallest height of each triangle

	start []int32 // neighbours of triangle t: links[start[t]:start[t+1]]
	links []facetLink
}

// facetLink leads from a triangle over the edge a-b, in the triangle's own
// sense of turning, to another one.
type facetLink struct{ to, a, b int32 }

// facetEdge is one side of a triangle, or a part of one.
type facetEdge struct {
	lo, hi int32
	tri    int32
	up     bool // the triangle runs from lo to hi
}

// pointTolerance returns the distance, mm, within which a vertex counts as
// lying on a surface: three times the largest rounding in space, and never
// below a millionth of the part, to which modellers place their vertices.
func pointTolerance(s *mesh.Scan, rounding float64) float64 {
	return max(3*math.Sqrt(3)*rounding, 1e-6*s.Diagonal())
}

func newFacetMesh(ctx context.Context, s *mesh.Scan) (*facetMesh, error) {
	rounding := coordinateRounding(s)
	m := &facetMesh{scan: s, tol: pointTolerance(s, rounding), size: s.Diagonal()}
	m.pts = make([]r3.Vector, s.Len())
	m.canon = make([]int32, s.Len())
	for i, o := range s.Offsets {
		m.pts[i] = o.R3()
		m.canon[i] = int32(i)
	}
	m.tri = slices.Clone(s.Triangles)
	edges := m.edges()
	if open := openEdges(edges); len(open) > 0 && m.weldSeams(open, 2*math.Sqrt(3)*rounding) {
		edges = m.edges()
	}
	edges, err := m.splitSides(ctx, edges)
	if err != nil {
		return nil, err
	}
	m.open = make([]bool, len(m.pts))
	for _, e := range openEdges(edges) {
		m.open[e.lo], m.open[e.hi] = true, true
	}
	sense := m.link(edges)
	m.measure()
	m.orient(sense)
	return m, nil
}

// edges lists the sides of all triangles, sorted by their ends, then by
// triangle. A side without length is left out.
func (m *facetMesh) edges() []facetEdge {
	out := make([]facetEdge, 0, 3*len(m.tri))
	for t, c := range m.tri {
		for k := range 3 {
			if a, b := c[k], c[(k+1)%3]; a != b {
				out = append(out, newFacetEdge(a, b, int32(t)))
			}
		}
	}
	slices.SortFunc(out, compareEdges)
	return out
}

func newFacetEdge(a, b, t int32) facetEdge {
	return facetEdge{lo: min(a, b), hi: max(a, b), tri: t, up: a < b}
}

func compareEdges(p, q facetEdge) int {
	return cmp.Or(cmp.Compare(p.lo, q.lo), cmp.Compare(p.hi, q.hi), cmp.Compare(p.tri, q.tri))
}

// edgeGroups calls f with every run of edges that have the same ends.
func edgeGroups(edges []facetEdge, f func(group []facetEdge)) {
	for i := 0; i < len(edges); {
		j := i + 1
		for j < len(edges) && edges[j].lo == edges[i].lo && edges[j].hi == edges[i].hi {
			j++
		}
		f(edges[i:j])
		i = j
	}
}

// openEdges returns the edges with a triangle on one side only.
func openEdges(edges []facetEdge) []facetEdge {
	var open []facetEdge
	edgeGroups(edges, func(g []facetEdge) {
		if len(g) == 1 {
			open = append(open, g[0])
		}
	})
	return open
}

// link stores for each triangle its neighbours over shared edges. The result
// tells for each link whether both triangles turn the same way round (1), which
// holds when they run along the edge in opposite senses, or not (-1); an edge of
// more than two triangles tells nothing (0).
func (m *facetMesh) link(edges []facetEdge) (sense []int8) {
	const most = 8 // triangles on one edge; more is a fan that belongs to nothing
	m.start = make([]int32, len(m.tri)+1)
	each := func(f func(p, q facetEdge, pair bool)) {
		edgeGroups(edges, func(g []facetEdge) {
			if len(g) > most {
				return
			}
			for i, p := range g {
				for j, q := range g {
					if i != j && p.tri != q.tri {
						f(p, q, len(g) == 2)
					}
				}
			}
		})
	}
	each(func(p, q facetEdge, _ bool) { m.start[p.tri+1]++ })
	for t := range m.tri {
		m.start[t+1] += m.start[t]
	}
	next := slices.Clone(m.start)
	m.links = make([]facetLink, m.start[len(m.tri)])
	sense = make([]int8, len(m.links))
	each(func(p, q facetEdge, pair bool) {
		a, b := p.lo, p.hi
		if !p.up {
			a, b = b, a
		}
		k := next[p.tri]
		next[p.tri]++
		m.links[k] = facetLink{to: q.tri, a: a, b: b}
		switch {
		case !pair:
		case p.up != q.up:
			sense[k] = 1
		default:
			sense[k] = -1
		}
	})
	return sense
}

// measure computes each triangle's normal, area and smallest height.
func (m *facetMesh) measure() {
	n := len(m.tri)
	m.normal = make([]r3.Vector, n)
	m.area = make([]float64, n)
	m.height = make([]float64, n)
	for t, c := range m.tri {
		a, b, d := m.pts[c[0]], m.pts[c[1]], m.pts[c[2]]
		cross := b.Sub(a).Cross(d.Sub(a))
		double := cross.Norm()
		longest := max(a.Distance(b), b.Distance(d), d.Distance(a))
		if double == 0 || longest == 0 {
			continue
		}
		m.normal[t] = cross.Mul(1 / double)
		m.area[t] = double / 2
		m.height[t] = double / longest
	}
}

// orient turns normals, and the sense of the links with them, where
// neighbouring triangles turn different ways round; in each connected piece
// the sense that most of the area has stays.
func (m *facetMesh) orient(sense []int8) {
	turned := make([]int8, len(m.tri)) // 0 not met, 1 kept, -1 turned
	var queue []int32
	for t := range m.tri {
		if turned[t] != 0 {
			continue
		}
		turned[t] = 1
		queue = append(queue[:0], int32(t))
		kept, wrong := 0.0, 0.0
		for head := 0; head < len(queue); head++ {
			u := queue[head]
			if turned[u] > 0 {
				kept += m.area[u]
			} else {
				wrong += m.area[u]
			}
			for k := m.start[u]; k < m.start[u+1]; k++ {
				if v := m.links[k].to; turned[v] == 0 && sense[k] != 0 {
					turned[v] = turned[u] * sense[k]
					queue = append(queue, v)
				}
			}
		}
		if wrong > kept {
			for _, u := range queue {
				turned[u] = -turned[u]
			}
		}
	}
	for t, s := range turned {
		if s > 0 {
			continue
		}
		m.normal[t] = m.normal[t].Mul(-1)
		for k := m.start[t]; k < m.start[t+1]; k++ {
			m.links[k].a, m.links[k].b = m.links[k].b, m.links[k].a
		}
	}
}
