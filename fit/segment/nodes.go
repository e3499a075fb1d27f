package segment

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// nodes is a thinned scan: each node stands for the points of one cell of a
// grid whose normals point the same way, roughly. The search for surfaces runs
// on nodes, so that its cost does not grow with the scan's density.
type nodes struct {
	pos   []mesh.Vec32 // mean of the points, offset frame
	nrm   []mesh.Vec32 // mean normal, unit
	avg   []mesh.Vec32 // nrm averaged over smooth links, see link
	cell  float64      // edge of the grid's cells, mm
	grid  cellGrid
	cells *cellTable // of the cells that hold nodes, whatever their normals
	in    []int32    // the cell of each node
	// lot holds the nodes in the order in which thin made them, which says nothing
	// of where they are: seeds are drawn by it.
	lot []int32
}

func (n *nodes) len() int             { return len(n.pos) }
func (n *nodes) at(i int32) r3.Vector { return n.pos[i].R3() }

// arrange puts the nodes, as thin made them, in the order of ix, their index, and
// returns where each of the index's is now. Once is enough.
func (n *nodes) arrange(ix *mesh.KDTree) (place []int32) {
	if n.lot != nil {
		place = make([]int32, n.len())
		for i := range place {
			place[i] = int32(i)
		}
		return place
	}
	pos, nrm, in := n.pos, n.nrm, n.in
	n.pos, n.nrm, n.in = make([]mesh.Vec32, len(pos)), make([]mesh.Vec32, len(pos)), make([]int32, len(pos))
	n.lot = make([]int32, len(pos))
	for k := range pos {
		i := ix.Order(k)
		n.pos[k], n.nrm[k], n.in[k] = pos[i], nrm[i], in[i]
		n.lot[i] = int32(k)
	}
	return n.lot
}

// picks are the points that make nodes.
type picks struct {
	list []int32 // these, if set; else one of each step of the scan's points
	n    int     // number of picks
	step int
	all  int // number of the scan's points
}

// every picks at most most of the points of a scan, evenly over the order in
// which they stand.
func every(points, most int) picks {
	step := max(1, (points+most-1)/most)
	return picks{n: (points + step - 1) / step, step: step, all: points}
}

func listed(list []int32) picks { return picks{list: list, n: len(list)} }

// at returns pick k. Of a step's points it is one by chance, so that rows of a
// scan do not beat with the step.
func (p *picks) at(k int) int32 {
	switch {
	case p.list != nil:
		return p.list[k]
	case p.step == 1:
		return int32(k)
	}
	lo := k * p.step
	return int32(lo + int(hash(uint64(k))%uint64(min(p.step, p.all-lo))))
}

// cellSum adds up the points of one cell that face one way: positions from the
// cell's corner, and normals.
type cellSum struct {
	key uint64
	sum [6]float32
	n   int32
}

// thin divides the picked points of s, less those without a normal and junk,
// into nodes of the given cell size. Points of one cell whose normals differ in
// their dominant direction become different nodes: the two sides of a sheet,
// the two sides of an edge. If sparse is set, points that stand alone in cells
// that mostly hold several are left out: points astray.
func thin(ctx context.Context, s *mesh.Scan, junk []bool, lo r3.Vector, pick picks, cell float64, sparse bool, jobs int) (*nodes, error) {
	n := &nodes{cell: cell, grid: newCellGrid(lo, cell)}
	parts := make([][]cellSum, thinParts)
	size := (pick.n + thinParts - 1) / thinParts
	err := parallel.Chunks(ctx, jobs, thinParts, 1, func(k, _ int) {
		parts[k] = sumCells(ctx, s, junk, pick, min(pick.n, k*size), min(pick.n, (k+1)*size), n.grid)
	})
	if err != nil {
		return nil, err
	}
	// The parts' cells are put together, in order, those of each stripe of
	// hashes side by side.
	whole := make([][]cellMean, thinParts)
	err = parallel.Chunks(ctx, jobs, thinParts, 1, func(k, _ int) { whole[k] = joinCells(parts, uint64(k), n.grid) })
	if err != nil {
		return nil, err
	}
	all := slices.Concat(whole...)
	if sparse {
		all = slices.DeleteFunc(all, aloneIn(all))
	}
	n.cells = newCellTable(len(all))
	n.pos, n.nrm, n.in = make([]mesh.Vec32, len(all)), make([]mesh.Vec32, len(all)), make([]int32, len(all))
	for i := range all {
		c := &all[i]
		n.pos[i], n.nrm[i] = c.pos, c.nrm
		n.in[i], _ = n.cells.id(c.key / 6)
	}
	return n, nil
}

// cellMean is a node to be.
type cellMean struct {
	key      uint64
	pos, nrm mesh.Vec32
	n        int32
}

// joinCells adds up the parts' sums of the cells of one stripe.
func joinCells(parts [][]cellSum, stripe uint64, grid cellGrid) []cellMean {
	table := newCellTable(len(parts[0]) / thinParts)
	var sum [][6]float64
	var out []cellMean
	for _, part := range parts {
		for c := range part {
			p := &part[c]
			if hash(p.key)>>32%thinParts != stripe {
				continue
			}
			i, fresh := table.id(p.key)
			if fresh {
				sum = append(sum, [6]float64{})
				out = append(out, cellMean{key: p.key})
			}
			for d, v := range p.sum {
				sum[i][d] += float64(v)
			}
			out[i].n += p.n
		}
	}
	for i := range out {
		m, t := &out[i], &sum[i]
		c := 1 / float64(m.n)
		corner := grid.corner(m.key / 6)
		for d := range 3 {
			m.pos[d] = float32(corner[d] + t[d]*c)
		}
		if l := math.Sqrt(t[3]*t[3] + t[4]*t[4] + t[5]*t[5]); l > 0 {
			m.nrm = mesh.Vec32{float32(t[3] / l), float32(t[4] / l), float32(t[5] / l)}
		}
	}
	return out
}

// sumCells adds up the picks from lo to hi by cell, in the order in which the
// cells are met.
func sumCells(ctx context.Context, s *mesh.Scan, junk []bool, pick picks, lo, hi int, grid cellGrid) []cellSum {
	table := newCellTable(min((hi-lo)/4, nodeTarget))
	sums := make([]cellSum, 0, min((hi-lo)/4, nodeTarget))
	for k := lo; k < hi; k++ {
		if k%lookEvery == 0 && ctx.Err() != nil {
			return nil
		}
		i := pick.at(k)
		o, m := s.Offsets[i], s.Normals[i]
		if m == (mesh.Vec32{}) || junk != nil && junk[i] {
			continue
		}
		key, in := grid.at(o)
		key = key*6 + dominant(m)
		c, fresh := table.id(key)
		if fresh {
			sums = append(sums, cellSum{key: key})
		}
		t := &sums[c]
		t.sum[0] += in[0]
		t.sum[1] += in[1]
		t.sum[2] += in[2]
		t.sum[3] += m[0]
		t.sum[4] += m[1]
		t.sum[5] += m[2]
		t.n++
	}
	return sums
}

// aloneIn returns whether the one point of a cell has fewer than two others in
// the cells round it, where the median cell holds four or more.
func aloneIn(all []cellMean) func(m cellMean) bool {
	var counts []int32
	for i := range all {
		if all[i].n > 1 { // most cells with a single point are astray themselves
			counts = append(counts, all[i].n)
		}
	}
	slices.Sort(counts)
	if len(counts) == 0 || counts[len(counts)/2] < 4 {
		return func(cellMean) bool { return false }
	}
	table := newCellTable(len(all))
	points := make([]int32, 0, len(all)) // by cell, whatever their normals
	for i := range all {
		c, fresh := table.id(all[i].key / 6)
		if fresh {
			points = append(points, 0)
		}
		points[c] += all[i].n
	}
	return func(m cellMean) bool {
		if m.n > 1 {
			return false
		}
		var n int32
		for dx := uint64(0); dx < 3; dx++ {
			for dy := uint64(0); dy < 3; dy++ {
				for dz := uint64(0); dz < 3; dz++ {
					k := m.key/6 + (dx-1)<<cellBits<<cellBits + (dy-1)<<cellBits + dz - 1
					if c := table.find(k); c >= 0 {
						if n += points[c]; n > 2 {
							return false
						}
					}
				}
			}
		}
		return true
	}
}
