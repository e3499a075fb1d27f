package scansim

import (
	"context"

	"github.com/golang/geo/r3"

	"spotface/mesh/parallel"
)

// surface is an iso-surface in the part's frame.
type surface struct {
	verts []r3.Vector
	norms []r3.Vector // unit, outward
	tris  [][3]int32
}

// The corners of a cell are numbered x + 2y + 4z.
var cellEdges = [12][2]int{
	{0, 1}, {2, 3}, {4, 5}, {6, 7},
	{0, 2}, {1, 3}, {4, 6}, {5, 7},
	{0, 4}, {1, 5}, {2, 6}, {3, 7},
}

// extract returns the zero surface of the smoothed field of s as naive surface
// nets (Gibson 1998): one vertex in every cell that the surface passes, at the
// mean of the points where it cuts the cell's edges; one quad, split in two,
// across every cut edge. Vertices are shared, so nothing is left to weld.
func (g *voxels) extract(ctx context.Context, s *Solid, jobs int) (*surface, error) {
	blocks := g.blocks(s)
	fields := make([]*field, parallel.Jobs(jobs))
	depth := s.depth()
	err := parallel.Workers(ctx, jobs, len(blocks), 1, func(w, i, _ int) error {
		if fields[w] == nil {
			fields[w] = g.newField(depth)
		}
		fields[w].fill(g, blocks[i])
		g.cut(blocks[i], fields[w])
		return nil
	})
	if err != nil {
		return nil, err
	}
	kept := blocks[:0]
	place := map[[3]int]*block{}
	total := int32(0)
	for _, b := range blocks {
		if len(b.verts) == 0 && len(b.edges) == 0 {
			continue
		}
		b.first = total
		total += int32(len(b.verts))
		place[b.at] = b
		kept = append(kept, b)
	}
	tris := make([][][3]int32, len(kept))
	err = parallel.Chunks(ctx, jobs, len(kept), 1, func(i, _ int) {
		tris[i] = g.join(kept[i], place)
	})
	if err != nil {
		return nil, err
	}
	out := &surface{}
	out.verts = make([]r3.Vector, 0, total)
	out.norms = make([]r3.Vector, 0, total)
	n := 0
	for i, b := range kept {
		out.verts = append(out.verts, b.verts...)
		out.norms = append(out.norms, b.norms...)
		n += len(tris[i])
	}
	out.tris = make([][3]int32, 0, n)
	for _, t := range tris {
		out.tris = append(out.tris, t...)
	}
	return out, nil
}

// cut finds the vertices and cut edges of one block.
func (g *voxels) cut(b *block, f *field) {
	n := f.n
	for k := range blockSize {
		for j := range blockSize {
			row := ((g.pass+k)*n+g.pass+j)*n + g.pass
			for i := range blockSize {
				var v [8]float64
				inside := 0 // a bit for each corner
				for c, o := range [8]int{0, 1, n, n + 1, n * n, n*n + 1, n*n + n, n*n + n + 1} {
					v[c] = f.v[row+i+o]
					// Within 1e-9 mm of the surface counts as outside, so that rounding
					// cannot put a sample on different sides for two blocks.
					if v[c] <= -1e-9 {
						inside |= 1 << c
					} else {
						v[c] = max(v[c], 1e-9)
					}
				}
				if inside == 0 || inside == 255 {
					continue
				}
				if b.cell == nil {
					b.cell = make([]uint16, blockSize*blockSize*blockSize)
				}
				cell := uint16(i | j<<blockBits | k<<(2*blockBits))
				for axis := range 3 {
					if inside&1 != inside>>(1<<axis)&1 {
						b.edges = append(b.edges, cell<<3|uint16(axis)<<1|uint16(inside&1))
					}
				}
				p, m := cellVertex(&v)
				b.cells++
				b.cell[cell] = b.cells
				b.verts = append(b.verts, g.sample(
					float64(b.at[0]*blockSize+i)+p[0],
					float64(b.at[1]*blockSize+j)+p[1],
					float64(b.at[2]*blockSize+k)+p[2]))
				b.norms = append(b.norms, g.frame.Turn(m).Normalize())
			}
		}
	}
}

// cellVertex returns the mean of the cut points of a cell's edges, in cells,
// and the field's mean gradient over the cell.
func cellVertex(v *[8]float64) (p [3]float64, m r3.Vector) {
	n := 0.0
	for e, c := range cellEdges {
		a, b := v[c[0]], v[c[1]]
		if (a < 0) == (b < 0) {
			continue
		}
		axis := e / 4
		for k := range 3 {
			p[k] += float64(c[0] >> k & 1)
		}
		p[axis] += a / (a - b)
		n++
	}
	for k := range p {
		p[k] /= n
	}
	m.X = v[1] - v[0] + v[3] - v[2] + v[5] - v[4] + v[7] - v[6]
	m.Y = v[2] - v[0] + v[3] - v[1] + v[6] - v[4] + v[7] - v[5]
	m.Z = v[4] - v[0] + v[5] - v[1] + v[6] - v[2] + v[7] - v[3]
	return p, m
}

// join makes the triangles across the cut edges of b.
func (g *voxels) join(b *block, place map[[3]int]*block) [][3]int32 {
	out := make([][3]int32, 0, 2*len(b.edges))
	for _, e := range b.edges {
		axis := int(e >> 1 & 3)
		at := [3]int{int(e >> 3 & blockMask), int(e >> 3 >> blockBits & blockMask), int(e >> 3 >> (2 * blockBits) & blockMask)}
		u, v := (axis+1)%3, (axis+2)%3
		// The four cells around the edge, counter-clockwise about its axis.
		var q [4]int32
		var at4 [4]r3.Vector
		whole := true
		for c, o := range [4][2]int{{-1, -1}, {0, -1}, {0, 0}, {-1, 0}} {
			cell := at
			cell[u] += o[0]
			cell[v] += o[1]
			owner, home := b, b.at
			for _, k := range [2]int{u, v} {
				if cell[k] < 0 {
					cell[k] += blockSize
					home[k]--
				}
			}
			if home != b.at {
				owner = place[home]
			}
			if owner == nil {
				whole = false
				break
			}
			i := owner.cell[cell[0]|cell[1]<<blockBits|cell[2]<<(2*blockBits)]
			if i == 0 {
				whole = false
				break
			}
			q[c] = owner.first + int32(i) - 1
			at4[c] = owner.verts[i-1]
		}
		if !whole {
			continue
		}
		if e&1 == 0 { // the field falls along the axis: outside is behind
			q[1], q[3] = q[3], q[1]
			at4[1], at4[3] = at4[3], at4[1]
		}
		if at4[0].Sub(at4[2]).Norm2() <= at4[1].Sub(at4[3]).Norm2() {
			out = append(out, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
		} else {
			out = append(out, [3]int32{q[1], q[2], q[3]}, [3]int32{q[1], q[3], q[0]})
		}
	}
	return out
}
