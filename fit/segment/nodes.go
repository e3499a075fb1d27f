package segment

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// nodes is a thinned scan: each node stands for the points of one cell of a
// grid whose normals point the same way, roughly. The search for surfaces runs
// on nodes, so that its cost does not grow with the scan's density.
type nodes struct {
	pos   []mesh.Vec32 // mean of the points, offset frame
	nrm   []mesh.Vec32 // mean normal, unit
	first []int32      // points of node i are pts[first[i]:first[i+1]]
	pts   []int32
	cell  float64 // edge of the grid's cells, mm
}

func (n *nodes) len() int             { return len(n.pos) }
func (n *nodes) at(i int32) r3.Vector { return n.pos[i].R3() }

// thinParts is into how many stretches thin cuts the items, whatever the number
// of goroutines, so that sums are added in one order.
const thinParts = 4

// thinPart is what one stretch of the items makes.
type thinPart struct {
	lo, hi int
	keys   []uint64     // of its cells, in the order in which they were met
	sum    [][6]float32 // of positions from the cell's corner and of normals
	count  []int32
	node   []int32 // of each of its cells, once the parts are put together
	next   []int32 // where the cell's next point goes in nodes.pts
}

// thin divides the items (point numbers) of s into nodes of the given cell
// size. Points of one cell whose normals differ in their dominant direction
// become different nodes: the two sides of a sheet, the two sides of an edge.
func thin(ctx context.Context, s *mesh.Scan, items []int32, cell float64, jobs int) (*nodes, error) {
	n := &nodes{cell: cell}
	lo, _ := s.Bounds()
	grid := cellGrid{lo: lo.Sub(s.Origin), inv: 1 / cell, cell: cell}
	of := make([]int32, len(items))
	parts := make([]thinPart, thinParts)
	size := (len(items) + thinParts - 1) / thinParts
	each := func(f func(p *thinPart)) error {
		return chunks(ctx, thinParts, 1, jobs, func(k, _ int) { f(&parts[k]) })
	}
	for k := range parts {
		parts[k].lo, parts[k].hi = min(len(items), k*size), min(len(items), (k+1)*size)
	}
	if err := each(func(p *thinPart) { p.sort(s, items, grid, of) }); err != nil {
		return nil, err
	}
	// The parts' cells get their nodes, and the nodes their sums, in order.
	table := newCellTable(4 * len(parts[0].keys))
	var sum [][6]float64
	var count []int32
	for k := range parts {
		p := &parts[k]
		p.node = make([]int32, len(p.keys))
		for c, key := range p.keys {
			i := table.id(key, int32(len(sum)))
			if int(i) == len(sum) {
				sum = append(sum, [6]float64{})
				count = append(count, 0)
			}
			for d, v := range p.sum[c] {
				sum[i][d] += float64(v)
			}
			count[i] += p.count[c]
			p.node[c] = i
		}
	}
	n.pos = make([]mesh.Vec32, len(sum))
	n.nrm = make([]mesh.Vec32, len(sum))
	n.first = make([]int32, len(sum)+1)
	corner := make([][3]float64, len(sum))
	for k := range parts {
		for c, key := range parts[k].keys {
			corner[parts[k].node[c]] = grid.corner(key / 6)
		}
	}
	for i, t := range sum {
		c := 1 / float64(count[i])
		for d := range 3 {
			n.pos[i][d] = float32(corner[i][d] + t[d]*c)
		}
		if l := math.Sqrt(t[3]*t[3] + t[4]*t[4] + t[5]*t[5]); l > 0 {
			n.nrm[i] = mesh.Vec32{float32(t[3] / l), float32(t[4] / l), float32(t[5] / l)}
		}
		n.first[i+1] = n.first[i] + count[i]
	}
	// Each part knows where its points of a node go: behind those of the parts
	// before it.
	next := slices.Clone(n.first[:len(sum)])
	for k := range parts {
		p := &parts[k]
		p.next = make([]int32, len(p.keys))
		for c := range p.keys {
			p.next[c] = next[p.node[c]]
			next[p.node[c]] += p.count[c]
		}
	}
	n.pts = make([]int32, len(items))
	err := each(func(p *thinPart) {
		for k := p.lo; k < p.hi; k++ {
			c := of[k]
			n.pts[p.next[c]] = items[k]
			p.next[c]++
		}
	})
	return n, err
}

// sort puts the part's items into cells, of[k] being the cell of items[k].
func (p *thinPart) sort(s *mesh.Scan, items []int32, grid cellGrid, of []int32) {
	table := newCellTable(p.hi - p.lo)
	for k := p.lo; k < p.hi; k++ {
		o, m := s.Offsets[items[k]], s.Normals[items[k]]
		key, in := grid.at(o)
		key = key*6 + dominant(m)
		c := table.id(key, int32(len(p.keys)))
		if int(c) == len(p.keys) {
			p.keys = append(p.keys, key)
			p.sum = append(p.sum, [6]float32{})
			p.count = append(p.count, 0)
		}
		t := &p.sum[c]
		t[0] += in[0]
		t[1] += in[1]
		t[2] += in[2]
		t[3] += m[0]
		t[4] += m[1]
		t[5] += m[2]
		p.count[c]++
		of[k] = c
	}
}

// cellGrid is a cubic grid with a corner at lo.
type cellGrid struct {
	lo        r3.Vector
	inv, cell float64
}

// at returns the cell of o and where in it o lies, mm.
func (g cellGrid) at(o mesh.Vec32) (key uint64, in [3]float32) {
	x, y, z := float64(o[0])-g.lo.X, float64(o[1])-g.lo.Y, float64(o[2])-g.lo.Z
	i, j, k := uint64(x*g.inv), uint64(y*g.inv), uint64(z*g.inv)
	in = [3]float32{float32(x - float64(i)*g.cell), float32(y - float64(j)*g.cell), float32(z - float64(k)*g.cell)}
	return i<<cellBits<<cellBits | j<<cellBits | k, in
}

// corner returns the lowest corner of a cell, in the offset frame.
func (g cellGrid) corner(key uint64) [3]float64 {
	const mask = 1<<cellBits - 1
	return [3]float64{
		g.lo.X + float64(key>>cellBits>>cellBits)*g.cell,
		g.lo.Y + float64(key>>cellBits&mask)*g.cell,
		g.lo.Z + float64(key&mask)*g.cell,
	}
}

// cellBits is the width of a cell's number along one side of the grid. Three of
// them and a sixfold leave room in 64 bits.
const cellBits = 20

// dominant returns which of the six axis directions n is nearest to, 0 to 5.
func dominant(n mesh.Vec32) uint64 {
	best, k := float32(-1), uint64(0)
	for c := range 3 {
		v := n[c]
		if v > best {
			best, k = v, uint64(2*c)
		}
		if -v > best {
			best, k = -v, uint64(2*c+1)
		}
	}
	return k
}

// cellTable gives consecutive numbers to keys: open addressing with linear
// steps over a power of two.
type cellTable struct {
	keys  []uint64
	ids   []int32
	mask  uint64
	used  int
	empty uint64
}

func newCellTable(hint int) *cellTable {
	size := 1 << 12
	for size < hint/4 {
		size <<= 1
	}
	t := &cellTable{empty: math.MaxUint64}
	t.alloc(size)
	return t
}

func (t *cellTable) alloc(size int) {
	t.keys = make([]uint64, size)
	t.ids = make([]int32, size)
	t.mask = uint64(size - 1)
	for i := range t.keys {
		t.keys[i] = t.empty
	}
}

// id returns the number of key, or gives it next if it is new.
func (t *cellTable) id(key uint64, next int32) int32 {
	if 2*t.used >= len(t.keys) {
		t.grow()
	}
	for h := hash(key) & t.mask; ; h = (h + 1) & t.mask {
		if t.keys[h] == key {
			return t.ids[h]
		}
		if t.keys[h] == t.empty {
			t.keys[h], t.ids[h] = key, next
			t.used++
			return next
		}
	}
}

func (t *cellTable) grow() {
	keys, ids := t.keys, t.ids
	t.alloc(2 * len(keys))
	t.used = 0
	for i, k := range keys {
		if k != t.empty {
			t.id(k, ids[i])
		}
	}
}

// hash mixes a key's bits (the finaliser of SplitMix64, Steele, Lea & Flood 2014).
func hash(x uint64) uint64 {
	x ^= x >> 30
	x *= 0xbf58476d1ce4e5b9
	x ^= x >> 27
	x *= 0x94d049bb133111eb
	return x ^ x>>31
}
