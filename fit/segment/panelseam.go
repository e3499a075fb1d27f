package segment

import (
	"cmp"
	"context"
	"slices"

	"github.com/golang/geo/r3"
)

// skew is a direction along which no drawing lines its points up, so that
// sorting along it keeps neighbours few.
var skew = r3.Vector{X: 0.5377, Y: 0.6129, Z: 0.5790}

// alongSkew returns the ends of the open edges, sorted along skew.
func (m *panelMesh) alongSkew(open []triangleEdge) []int32 {
	var ends []int32
	for _, e := range open {
		ends = append(ends, e.lo, e.hi)
	}
	slices.Sort(ends)
	ends = slices.Compact(ends)
	slices.SortStableFunc(ends, func(i, j int32) int {
		return cmp.Compare(m.pts[i].Dot(skew), m.pts[j].Dot(skew))
	})
	return ends
}

// weldSeams joins ends of open edges that lie within reach of each other:
// coordinates that one vertex got when two faces were written separately. It
// reports whether it joined any.
func (m *panelMesh) weldSeams(open []triangleEdge, reach float64) bool {
	ends := m.alongSkew(open)
	any := false
	for i, p := range ends {
		if m.canon[p] != p {
			continue
		}
		for _, q := range ends[i+1:] {
			if m.pts[q].Sub(m.pts[p]).Dot(skew) > reach {
				break
			}
			if m.canon[q] == q && m.pts[p].Distance(m.pts[q]) <= reach {
				m.canon[q] = p
				any = true
			}
		}
	}
	if any {
		for t, c := range m.tri {
			for k := range 3 {
				m.tri[t][k] = m.canon[c[k]]
			}
		}
	}
	return any
}

// splitSides cuts open edges at the vertices of other open edges that lie on
// them (T-junctions), so that the parts meet their neighbours.
func (m *panelMesh) splitSides(ctx context.Context, edges []triangleEdge) ([]triangleEdge, error) {
	open := openEdges(edges)
	if len(open) == 0 {
		return edges, nil
	}
	ends := m.alongSkew(open)
	isOpen := make(map[triangleEdge]bool, len(open))
	var parts []triangleEdge
	for n, e := range open {
		if n%256 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		a, b := m.pts[e.lo], m.pts[e.hi]
		if a.Dot(skew) > b.Dot(skew) {
			a, b = b, a
		}
		from, to := a.Dot(skew), b.Dot(skew)
		d := b.Sub(a)
		first, _ := slices.BinarySearchFunc(ends, from, func(i int32, x float64) int {
			return cmp.Compare(m.pts[i].Dot(skew), x)
		})
		var on []int32
		for _, q := range ends[first:] {
			if m.pts[q].Dot(skew) > to {
				break
			}
			w := m.pts[q].Sub(a)
			if q == e.lo || q == e.hi || w.Cross(d).Norm() > m.tol*d.Norm() {
				continue
			}
			if s := w.Dot(d); s > m.tol*d.Norm() && s < d.Norm2()-m.tol*d.Norm() {
				on = append(on, q)
			}
		}
		if len(on) == 0 {
			continue
		}
		isOpen[e] = true
		start := m.pts[e.lo]
		slices.SortStableFunc(on, func(i, j int32) int {
			return cmp.Compare(m.pts[i].Distance(start), m.pts[j].Distance(start))
		})
		chain := append(append([]int32{e.lo}, on...), e.hi)
		for k := range len(chain) - 1 {
			p := newTriangleEdge(chain[k], chain[k+1], e.tri)
			p.up = p.up == e.up
			parts = append(parts, p)
		}
	}
	if len(parts) == 0 {
		return edges, nil
	}
	edges = slices.DeleteFunc(edges, func(e triangleEdge) bool { return isOpen[e] })
	edges = append(edges, parts...)
	slices.SortFunc(edges, compareEdges)
	return edges, nil
}
