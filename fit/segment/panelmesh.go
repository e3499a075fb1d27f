package segment

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
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
	canon []int32    // point -> the point that replaces it
	open  []bool     // whether a point lies on an open edge
	tri   [][3]int32 // corners that replace the scan's

	normal []r3.Vector // of each triangle, out of the material; zero if it has none
	area   []float64
	height []float64 // smallest height of each triangle

	// links lead from each triangle over its edges, along its winding, to other triangles.
	links [][]mesh.HalfEdge
	rim   []float64 // length of each triangle's open sides
}

// pointTolerance returns the distance, mm, within which a vertex counts as
// lying on a surface: three times the largest rounding in space, and never
// below a millionth of the part, to which modellers place their vertices.
func pointTolerance(s *mesh.Scan, rounding float64) float64 {
	return max(pointRoundings*math.Sqrt(3)*rounding, pointShare*s.Diagonal())
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
	m.weld(2 * math.Sqrt(3) * rounding)
	if err := m.link(ctx); err != nil {
		return nil, err
	}
	m.measure()
	_, m.side, _ = sideLengths(s)
	m.tolerances()
	return m, nil
}

// weld joins vertices that lie within reach of each other: coordinates that one vertex
// got when two faces were written separately.
func (m *panelMesh) weld(reach float64) {
	tree := mesh.NewKDTree(m.scan.Offsets, 0)
	var near []int32
	for i, o := range m.scan.Offsets {
		near = tree.InRadius(o, float32(reach), near[:0])
		for _, j := range near {
			if int(j) > i && m.canon[i] == int32(i) && m.canon[j] == j {
				m.canon[j] = int32(i)
			}
		}
	}
	m.tri = slices.Clone(m.scan.Triangles)
	for t := range m.tri {
		for k, v := range m.tri[t] {
			m.tri[t][k] = m.canon[v]
		}
	}
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
		for _, l := range m.links[t] {
			if int32(t) > l.Triangle {
				continue
			}
			d, ok := m.far(l.Triangle, l.From, l.To)
			c, ok2 := m.far(int32(t), l.From, l.To)
			if !ok || !ok2 {
				continue
			}
			a, e := m.pts[l.From], m.pts[l.To].Sub(m.pts[l.From])
			c, d = c.Sub(a), d.Sub(a)
			ee, ec, cc := e.Norm2(), e.Dot(c), c.Norm2()
			det := ee*cc - ec*ec
			if det < sliverPair*ee*cc {
				continue
			}
			u, v := (d.Dot(e)*cc-d.Dot(c)*ec)/det, (d.Dot(c)*ee-d.Dot(e)*ec)/det
			off = append(off, math.Abs(d.Dot(m.normal[t]))/math.Sqrt(1+u*u+v*v+(1-u-v)*(1-u-v)))
		}
	}
	slices.Sort(off)
	most := mostNoise * m.side
	for k := len(off) / leastCoplanar; len(off) >= leastPairs && k < len(off) &&
		off[k] <= most; k++ {
		within, _ := slices.BinarySearch(off, 3*off[k])
		if float64(within) <= threeSigmas*float64(k+1) {
			return off[k]
		}
	}
	return 0
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

// link stores for each triangle its neighbours over shared edges, and which vertices lie
// on an open edge.
func (m *panelMesh) link(ctx context.Context) error {
	const most = 8 // triangles on one edge; more is a fan that belongs to nothing
	m.links = make([][]mesh.HalfEdge, len(m.tri))
	m.open, m.rim = make([]bool, len(m.pts)), make([]float64, len(m.tri))
	welded := &mesh.Scan{Offsets: m.scan.Offsets, Triangles: m.tri}
	return mesh.VisitEdges(ctx, welded, true, func(edge []mesh.HalfEdge) {
		a, b := edge[0].From, edge[0].To
		if a == b || len(edge) > most {
			return
		}
		if len(edge) == 1 {
			m.open[a], m.open[b] = true, true
			m.rim[edge[0].Triangle] += m.pts[a].Distance(m.pts[b])
		}
		for _, p := range edge {
			for _, q := range edge {
				if p.Triangle != q.Triangle {
					to := mesh.HalfEdge{From: p.From, To: p.To, Triangle: q.Triangle}
					m.links[p.Triangle] = append(m.links[p.Triangle], to)
				}
			}
		}
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
