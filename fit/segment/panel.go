package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// flatPanel is a connected set of triangles in one plane: a flat face of the
// part, or one flat side by which a curved one was drawn.
type flatPanel struct {
	tris  []int32
	verts []int32 // its vertices, ascending
	// corners are the vertices where its border turns. Others may stand on a
	// straight side, put there for a neighbour, inside the curved surface
	// that the panel draws.
	corners []int32
	normal  r3.Vector
	centre  r3.Vector
	area    float64
	border  float64 // length
	height  float64 // of its tallest triangle
	tilt    float64 // what noise does to its normal, at most; rad
	links   []panelLink
}

// panelLink leads from a panel over the edge a-b to another panel. angle is
// the turn between the two normals; convex tells whether the material lies
// inside the corner.
type panelLink struct {
	to     int32
	a, b   int32
	length float64
	angle  float64
	convex bool
}

// panels gathers the triangles into panels, the widest triangles first, so
// that a plane is never begun on a sliver. It returns them with the panel of
// each triangle, -1 for one without area.
func (m *panelMesh) panels(ctx context.Context) ([]flatPanel, []int32, error) {
	order := make([]int32, 0, len(m.tri))
	of := make([]int32, len(m.tri))
	for t := range m.tri {
		of[t] = -1
		if m.area[t] > 0 {
			order = append(order, int32(t))
		}
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(m.height[b], m.height[a]) })
	var out []flatPanel
	for k, t := range order {
		if k%4096 == 0 && ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		if of[t] < 0 {
			out = append(out, m.growPanel(t, int32(len(out)), of))
		}
	}
	for i := range out {
		out[i].corners, out[i].border = m.panelCorners(out[i].tris)
		out[i].links = m.panelLinks(&out[i], int32(i), of, out)
		for _, t := range out[i].tris {
			out[i].height = max(out[i].height, m.height[t])
		}
		// Two ends of the height may move opposite ways.
		out[i].tilt = min(mostTilt, math.Atan2(2*noiseSigmas*m.noise, out[i].height))
	}
	return out, of, nil
}

// growPanel collects the triangles around t whose vertices lie in one plane.
// The plane is taken anew each time the panel's area has doubled, so that a
// small start does not have to reach across a large face.
func (m *panelMesh) growPanel(t, id int32, of []int32) flatPanel {
	p := flatPanel{tris: []int32{t}}
	of[t] = id
	normal, point := m.normal[t], m.centroid(t)
	known := m.area[t]
	sum := m.normal[t].Mul(m.area[t])
	middle := point.Mul(m.area[t])
	total := m.area[t]
	refresh := func() {
		if l := sum.Norm(); l > 0 {
			normal, point = sum.Mul(1/l), middle.Mul(1/total)
		}
		known = total
	}
	for done := 0; done < len(p.tris); {
		for head := done; head < len(p.tris); head++ {
			u := p.tris[head]
			for k := m.start[u]; k < m.start[u+1]; k++ {
				v := m.links[k].to
				if of[v] >= 0 || !m.inPlane(v, normal, point) {
					continue
				}
				of[v] = id
				p.tris = append(p.tris, v)
				sum = sum.Add(m.normal[v].Mul(m.area[v]))
				middle = middle.Add(m.centroid(v).Mul(m.area[v]))
				total += m.area[v]
				if total > 2*known {
					refresh()
				}
			}
		}
		done = len(p.tris)
		if total > known { // those refused for a poor plane get a second chance
			refresh()
			done = 0
		}
	}
	p.normal, p.centre, p.area = normal, point, total
	slices.Sort(p.tris)
	for _, u := range p.tris {
		p.verts = append(p.verts, m.tri[u][:]...)
	}
	slices.Sort(p.verts)
	p.verts = slices.Compact(p.verts)
	return p
}

// inPlane reports whether triangle t lies in a plane, the same side up.
func (m *panelMesh) inPlane(t int32, normal, point r3.Vector) bool {
	for _, c := range m.tri[t] {
		if math.Abs(m.pts[c].Sub(point).Dot(normal)) > m.tol {
			return false
		}
	}
	return m.normal[t].Dot(normal) > 0.5 || m.height[t] < sliverRounding*m.tol
}

func (m *panelMesh) centroid(t int32) r3.Vector {
	c := m.tri[t]
	return m.pts[c[0]].Add(m.pts[c[1]]).Add(m.pts[c[2]]).Mul(1.0 / 3)
}

// panelLinks lists the edges between a panel and others, those of its size first: so are
// the sides of a curved surface, beside which a face is large.
func (m *panelMesh) panelLinks(p *flatPanel, id int32, of []int32, all []flatPanel) []panelLink {
	var out []panelLink
	for _, t := range p.tris {
		for _, l := range m.links[m.start[t]:m.start[t+1]] {
			other := of[l.to]
			if other < 0 || other == id {
				continue
			}
			q := &all[other]
			edge := m.pts[l.b].Sub(m.pts[l.a])
			turn := p.normal.Cross(q.normal)
			out = append(out, panelLink{
				to: other, a: l.a, b: l.b, length: edge.Norm(),
				angle: math.Atan2(turn.Norm(), p.normal.Dot(q.normal)),
				// Seen from outside the edge runs with the panel on its left,
				// so the normals turn about it as a right-handed screw where
				// the corner is convex.
				convex: turn.Dot(edge) > 0,
			})
		}
	}
	unlike := func(l panelLink) float64 { return max(p.area/all[l.to].area, all[l.to].area/p.area) }
	slices.SortStableFunc(out, func(a, b panelLink) int { return cmp.Compare(unlike(a), unlike(b)) })
	return out
}

// panelCorners returns the vertices where the border of a set of triangles
// turns, ascending, and the border's length.
func (m *panelMesh) panelCorners(tris []int32) (corners []int32, length float64) {
	type side struct{ v, w int32 }
	var sides []side
	for _, t := range tris {
		for k := range 3 {
			a, b := m.tri[t][k], m.tri[t][(k+1)%3]
			sides = append(sides, side{min(a, b), max(a, b)})
		}
	}
	compare := func(p, q side) int { return cmp.Or(cmp.Compare(p.v, q.v), cmp.Compare(p.w, q.w)) }
	slices.SortFunc(sides, compare)
	var border []side // both ways
	for i := 0; i < len(sides); {
		j := i + 1
		for j < len(sides) && sides[j] == sides[i] {
			j++
		}
		if j == i+1 {
			border = append(border, sides[i], side{sides[i].w, sides[i].v})
			length += m.pts[sides[i].v].Distance(m.pts[sides[i].w])
		}
		i = j
	}
	slices.SortFunc(border, compare)
	for i := 0; i < len(border); {
		j := i + 1
		for j < len(border) && border[j].v == border[i].v {
			j++
		}
		v := border[i].v
		first := m.pts[border[i].w].Sub(m.pts[v])
		straight, ahead := true, false
		for _, e := range border[i+1 : j] {
			d := m.pts[e.w].Sub(m.pts[v])
			// The distance of v from the line between both ends.
			chord := d.Sub(first).Norm()
			if d.Dot(first) < 0 {
				ahead = true
			}
			if d.Cross(first).Norm() > m.tol*max(chord, d.Norm(), first.Norm()) {
				straight = false
			}
		}
		if !straight || !ahead {
			corners = append(corners, v)
		}
		i = j
	}
	return corners, length
}
