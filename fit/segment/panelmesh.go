package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/geom"
)

// panelMesh is a tessellated mesh prepared for a walk over its triangles.
// Coordinates are mm from the scan's origin.
type panelMesh struct {
	scan  *mesh.Scan
	tol   float64 // a vertex this close to a plane lies on it: rounding of exact coordinates
	noise float64 // standard deviation of the vertices, mm, where it is more than rounding; else 0
	near  float64 // a vertex this close to a surface lies on it: rounding and noise
	loose float64 // the same for a surface that is known from its first panels
	size  float64 // diagonal of the part
	side  float64 // median length of the triangles' sides
	pts   []r3.Vector
	canon []int32    // point -> the point that stands for it
	open  []bool     // whether a point lies on an open edge
	tri   [][3]int32 // corners that stand for the scan's

	normal []r3.Vector // of each triangle, out of the material; zero if it has none
	area   []float64
	height []float64 // smallest height of each triangle

	start []int32 // neighbours of triangle t: links[start[t]:start[t+1]]
	links []triangleLink
}

// triangleLink leads from a triangle over the edge a-b, in the triangle's own
// sense of turning, to another one.
type triangleLink struct{ to, a, b int32 }

// triangleEdge is one side of a triangle, or a part of one.
type triangleEdge struct {
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

func newPanelMesh(ctx context.Context, s *mesh.Scan) (*panelMesh, error) {
	rounding := coordinateRounding(s)
	m := &panelMesh{scan: s, tol: pointTolerance(s, rounding), size: s.Diagonal()}
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
	m.link(edges)
	m.measure()
	m.side = m.medianSide()
	m.tolerances()
	return m, nil
}

// tolerances sets what noise adds to rounding.
func (m *panelMesh) tolerances() {
	m.near, m.loose = m.tol, looseRoundings*m.tol
	if n := m.cornerNoise(); noiseSigmas*n > m.tol {
		m.raise(n)
	}
}

// raise sets the noise.
func (m *panelMesh) raise(noise float64) {
	m.noise = noise
	m.near = max(m.tol, noiseSigmas*noise)
	m.loose = max(looseRoundings*m.tol, looseSigmas*noise)
}

// cornerNoise estimates the standard deviation of the vertices from how far the far
// corner of a triangle lies off the plane of its neighbour,
//
//	h = n·(d - a)    var h = σ² (1 + u² + v² + (1-u-v)²)
//
// where (1-u-v, u, v) are the foot's coordinates in the neighbour's corners. A third of a
// drawing's pairs or more lie in one plane; the others turn by far more. So σ is the least
// that has as many h within 3σ beside those within σ as a normal distribution has.
func (m *panelMesh) cornerNoise() float64 {
	var off []float64
	for t := range m.tri {
		for _, l := range m.links[m.start[t]:m.start[t+1]] {
			if int32(t) > l.to {
				continue
			}
			d, ok := m.far(l.to, l.a, l.b)
			c, ok2 := m.far(int32(t), l.a, l.b)
			if !ok || !ok2 {
				continue
			}
			a, e := m.pts[l.a], m.pts[l.b].Sub(m.pts[l.a])
			c, d = c.Sub(a), d.Sub(a)
			ee, ec, cc := e.Norm2(), e.Dot(c), c.Norm2()
			det := ee*cc - ec*ec
			if det < 1e-12*ee*cc {
				continue
			}
			u, v := (d.Dot(e)*cc-d.Dot(c)*ec)/det, (d.Dot(c)*ee-d.Dot(e)*ec)/det
			off = append(off, math.Abs(d.Dot(m.normal[t]))/math.Sqrt(1+u*u+v*v+(1-u-v)*(1-u-v)))
		}
	}
	slices.Sort(off)
	most := mostNoise * m.side
	for k := len(off) / leastCoplanar; len(off) >= leastPairs && k < len(off) && off[k] <= most; k++ {
		within, _ := slices.BinarySearch(off, 3*off[k])
		if float64(within) <= threeSigmas*float64(k+1) {
			return off[k]
		}
	}
	return 0
}

// medianSide returns the median length of the triangles' sides.
func (m *panelMesh) medianSide() float64 {
	var sides []float64
	for _, c := range m.tri {
		for k := range 3 {
			sides = append(sides, m.pts[c[k]].Distance(m.pts[c[(k+1)%3]]))
		}
	}
	if len(sides) == 0 {
		return 0
	}
	return geom.Nth(sides, len(sides)/2)
}

// far returns the corner of triangle t that is not on the edge a-b.
func (m *panelMesh) far(t, a, b int32) (r3.Vector, bool) {
	for _, v := range m.tri[t] {
		if v != a && v != b {
			return m.pts[v], true
		}
	}
	return r3.Vector{}, false
}

// edges lists the sides of all triangles, sorted by their ends, then by
// triangle. A side without length is left out.
func (m *panelMesh) edges() []triangleEdge {
	out := make([]triangleEdge, 0, 3*len(m.tri))
	for t, c := range m.tri {
		for k := range 3 {
			if a, b := c[k], c[(k+1)%3]; a != b {
				out = append(out, newTriangleEdge(a, b, int32(t)))
			}
		}
	}
	slices.SortFunc(out, compareEdges)
	return out
}

func newTriangleEdge(a, b, t int32) triangleEdge {
	return triangleEdge{lo: min(a, b), hi: max(a, b), tri: t, up: a < b}
}

func compareEdges(p, q triangleEdge) int {
	return cmp.Or(cmp.Compare(p.lo, q.lo), cmp.Compare(p.hi, q.hi), cmp.Compare(p.tri, q.tri))
}

// edgeGroups calls f with every run of edges that have the same ends.
func edgeGroups(edges []triangleEdge, f func(group []triangleEdge)) {
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
func openEdges(edges []triangleEdge) []triangleEdge {
	var open []triangleEdge
	edgeGroups(edges, func(g []triangleEdge) {
		if len(g) == 1 {
			open = append(open, g[0])
		}
	})
	return open
}

// link stores for each triangle its neighbours over shared edges.
func (m *panelMesh) link(edges []triangleEdge) {
	const most = 8 // triangles on one edge; more is a fan that belongs to nothing
	m.start = make([]int32, len(m.tri)+1)
	each := func(f func(p, q triangleEdge)) {
		edgeGroups(edges, func(g []triangleEdge) {
			if len(g) > most {
				return
			}
			for i, p := range g {
				for j, q := range g {
					if i != j && p.tri != q.tri {
						f(p, q)
					}
				}
			}
		})
	}
	each(func(p, q triangleEdge) { m.start[p.tri+1]++ })
	for t := range m.tri {
		m.start[t+1] += m.start[t]
	}
	next := slices.Clone(m.start)
	m.links = make([]triangleLink, m.start[len(m.tri)])
	each(func(p, q triangleEdge) {
		a, b := p.lo, p.hi
		if !p.up {
			a, b = b, a
		}
		m.links[next[p.tri]] = triangleLink{to: q.tri, a: a, b: b}
		next[p.tri]++
	})
}

// measure computes each triangle's normal, area and smallest height.
func (m *panelMesh) measure() {
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
