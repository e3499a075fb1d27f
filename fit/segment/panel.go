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
	slices.SortStableFunc(order, func(a, b int32) int {
		return cmp.Compare(m.height[b], m.height[a])
	})
	var out []flatPanel
	for k, t := range order {
		if k%nodeChunk == 0 && ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		if of[t] < 0 {
			out = append(out, m.growPanel(t, int32(len(out)), of))
		}
	}
	for i := range out {
		out[i].corners = m.panelCorners(&out[i])
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
	p := flatPanel{normal: m.normal[t], centre: m.centroid(t)}
	var sum, middle r3.Vector
	known := 0.0 // area from which the plane was taken
	take := func(t int32) {
		of[t] = id
		p.tris = append(p.tris, t)
		sum = sum.Add(m.normal[t].Mul(m.area[t]))
		middle = middle.Add(m.centroid(t).Mul(m.area[t]))
		p.area += m.area[t]
	}
	level := func() {
		if l := sum.Norm(); l > 0 {
			p.normal, p.centre = sum.Mul(1/l), middle.Mul(1/p.area)
		}
		known = p.area
	}
	take(t)
	for known < p.area { // those refused for a poor plane get a second chance
		level()
		for head := 0; head < len(p.tris); head++ {
			for _, l := range m.links[p.tris[head]] {
				if of[l.Triangle] >= 0 || !m.inPlane(l.Triangle, p.normal, p.centre) {
					continue
				}
				take(l.Triangle)
				if p.area > levelGain*known {
					level()
				}
			}
		}
	}
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
		for _, l := range m.links[t] {
			other := of[l.Triangle]
			if other < 0 || other == id {
				continue
			}
			q := &all[other]
			edge := m.pts[l.To].Sub(m.pts[l.From])
			turn := p.normal.Cross(q.normal)
			out = append(out, panelLink{
				to: other, a: l.From, b: l.To, length: edge.Norm(),
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

// panelCorners returns the vertices where the border of a set of triangles turns,
// ascending: the triangles' angles there add up neither to a half turn nor to a whole one,
// to what the rounding of the shortest side at the vertex can do.
func (m *panelMesh) panelCorners(p *flatPanel) (corners []int32) {
	sum, shortest := make([]float64, len(p.verts)), make([]float64, len(p.verts))
	for _, t := range p.tris {
		c := m.tri[t]
		for k, v := range c {
			at, _ := slices.BinarySearch(p.verts, v)
			a, b := m.pts[c[(k+1)%3]].Sub(m.pts[v]), m.pts[c[(k+2)%3]].Sub(m.pts[v])
			sum[at] += float64(a.Angle(b))
			if side := min(a.Norm(), b.Norm()); shortest[at] == 0 || side < shortest[at] {
				shortest[at] = side
			}
		}
	}
	for at, v := range p.verts {
		turn := math.Abs(math.Remainder(sum[at], math.Pi))
		if sum[at] < math.Pi/2 || turn*shortest[at] > 2*m.tol {
			corners = append(corners, v)
		}
	}
	return corners
}
