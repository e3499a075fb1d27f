package segment

import (
	"context"
	"math/rand/v2"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// cellGrid is a cubic grid with a corner at lo.
type cellGrid struct {
	lo        r3.Vector
	inv, cell float64
}

func newCellGrid(lo r3.Vector, cell float64) cellGrid { return cellGrid{lo, 1 / cell, cell} }

// cellBits is the width of a cell's number along one side of the grid. Three of
// them and a sixfold leave room in 64 bits.
const cellBits = 20

// key returns the cell of o.
func (g *cellGrid) key(o mesh.Vec32) uint64 {
	x, y, z := float64(o[0])-g.lo.X, float64(o[1])-g.lo.Y, float64(o[2])-g.lo.Z
	return uint64(x*g.inv)<<cellBits<<cellBits | uint64(y*g.inv)<<cellBits | uint64(z*g.inv)
}

// corner returns the lowest corner of a cell, in the offset frame.
func (g *cellGrid) corner(key uint64) r3.Vector {
	const mask = 1<<cellBits - 1
	i, j, k := key>>cellBits>>cellBits, key>>cellBits&mask, key&mask
	return g.lo.Add(r3.Vector{X: float64(i), Y: float64(j), Z: float64(k)}.Mul(g.cell))
}

// cellIDs gives consecutive numbers to keys.
type cellIDs map[uint64]int32

// find returns the number of key, or -1.
func (c cellIDs) find(key uint64) int32 {
	if id, ok := c[key]; ok {
		return id
	}
	return -1
}

// id returns the number of key, or gives it the next if it is new.
func (c cellIDs) id(key uint64) (id int32, fresh bool) {
	id, old := c[key]
	if !old {
		id = int32(len(c))
		c[key] = id
	}
	return id, !old
}

// dominant returns which of the six axis directions n is nearest to, 0 to 5.
func dominant(n mesh.Vec32) uint64 {
	c := n.R3().LargestComponent()
	if n[c] < 0 {
		return 2*uint64(c) + 1
	}
	return 2 * uint64(c)
}

// nodes is a thinned scan: each node represents the points of one cell of a
// grid whose normals point the same way, roughly. The search for surfaces runs
// on nodes, so that its cost does not grow with the scan's density.
type nodes struct {
	pos   []mesh.Vec32 // mean of the points, offset frame
	nrm   []mesh.Vec32 // mean normal, unit
	avg   []mesh.Vec32 // nrm averaged over smooth links, see link
	grid  cellGrid
	cells cellIDs // of the cells that hold points, whatever their normals
	in    []int32 // the cell of each node
	// lot holds the nodes in the order in which thin made them, which says nothing
	// of where they are: seeds are drawn by it.
	lot []int32
}

func (n *nodes) len() int             { return len(n.pos) }
func (n *nodes) at(i int32) r3.Vector { return n.pos[i].R3() }

// every picks at most most of the points of a scan, evenly over the order in
// which they stand. Of as many in a row it is one by chance, so that rows of a
// scan do not beat with the step.
func every(points, most int) []int32 {
	step := max(1, (points+most-1)/most)
	out := make([]int32, 0, (points+step-1)/step)
	rng := rand.New(rand.NewPCG(uint64(points), uint64(step)))
	for lo := 0; lo < points; lo += step {
		out = append(out, int32(lo+rng.IntN(min(step, points-lo))))
	}
	return out
}

// cellSums adds up points by cell and dominant direction of the normal, in the
// order in which these are met: positions from the cell's corner, and normals.
type cellSums struct {
	ids  cellIDs
	sums []cellSum
}

type cellSum struct {
	key      uint64 // six times the cell's, and the direction
	n        int32
	pos, nrm mesh.Vec32
}

func (c *cellSums) add(p *cellSum) {
	i, fresh := c.ids.id(p.key)
	if fresh {
		c.sums = append(c.sums, *p)
		return
	}
	t := &c.sums[i]
	t.n += p.n
	for d := range 3 {
		t.pos[d] += p.pos[d]
		t.nrm[d] += p.nrm[d]
	}
}

// thin divides the picked points of s, less those without a normal and junk,
// into nodes of the given cell size. Points of one cell whose normals differ in
// their dominant direction become different nodes: the two sides of a sheet,
// the two sides of an edge.
func thin(ctx context.Context, s *mesh.Scan, junk []bool, lo r3.Vector, pick []int32, cell float64,
	jobs int) (*nodes, error) {
	n := &nodes{grid: newCellGrid(lo, cell), cells: cellIDs{}}
	parts := make([]cellSums, (len(pick)+thinChunk-1)/thinChunk)
	err := parallel.Chunks(ctx, jobs, len(pick), thinChunk, func(from, to int) {
		part := &parts[from/thinChunk]
		part.ids = make(cellIDs, (to-from)/2)
		part.sums = make([]cellSum, 0, (to-from)/2)
		for _, i := range pick[from:to] {
			m := s.Normals[i]
			if m == (mesh.Vec32{}) || junk != nil && junk[i] {
				continue
			}
			key := n.grid.key(s.Offsets[i])
			in := vec32(s.Offsets[i].R3().Sub(n.grid.corner(key)))
			part.add(&cellSum{key*6 + dominant(m), 1, in, m})
		}
	})
	if err != nil || len(parts) == 0 {
		return n, err
	}
	all := &parts[0]
	for _, part := range parts[1:] {
		for k := range part.sums {
			all.add(&part.sums[k])
		}
	}
	in := make([]int32, len(all.sums))
	for k := range all.sums {
		in[k], _ = n.cells.id(all.sums[k].key / 6)
	}
	for k := range all.sums {
		c := &all.sums[k]
		n.pos = append(n.pos, vec32(n.grid.corner(c.key/6).Add(c.pos.R3().Mul(1/float64(c.n)))))
		n.nrm = append(n.nrm, vec32(c.nrm.R3().Normalize()))
		n.in = append(n.in, in[k])
	}
	return n, nil
}
