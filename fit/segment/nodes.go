package segment

import (
	"math"

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

// thin divides the items (point numbers) of s into nodes of the given cell
// size. Points of one cell whose normals differ in their dominant direction
// become different nodes: the two sides of a sheet, the two sides of an edge.
func thin(s *mesh.Scan, items []int32, cell float64) *nodes {
	n := &nodes{cell: cell}
	inv := 1 / cell
	lo, _ := s.Bounds()
	lo = lo.Sub(s.Origin)
	table := newCellTable(len(items))
	of := make([]int32, len(items))
	sum := make([][6]float64, 0, 1024)
	count := make([]int32, 0, 1024)
	for k, i := range items {
		o, m := s.Offsets[i], s.Normals[i]
		key := uint64((float64(o[0])-lo.X)*inv)<<40 | uint64((float64(o[1])-lo.Y)*inv)<<20 | uint64((float64(o[2])-lo.Z)*inv)
		id := table.id(key*6+dominant(m), int32(len(sum)))
		if int(id) == len(sum) {
			sum = append(sum, [6]float64{})
			count = append(count, 0)
		}
		t := &sum[id]
		t[0] += float64(o[0])
		t[1] += float64(o[1])
		t[2] += float64(o[2])
		t[3] += float64(m[0])
		t[4] += float64(m[1])
		t[5] += float64(m[2])
		count[id]++
		of[k] = id
	}
	n.pos = make([]mesh.Vec32, len(sum))
	n.nrm = make([]mesh.Vec32, len(sum))
	n.first = make([]int32, len(sum)+1)
	for i, t := range sum {
		c := 1 / float64(count[i])
		n.pos[i] = mesh.Vec32{float32(t[0] * c), float32(t[1] * c), float32(t[2] * c)}
		if l := math.Sqrt(t[3]*t[3] + t[4]*t[4] + t[5]*t[5]); l > 0 {
			n.nrm[i] = mesh.Vec32{float32(t[3] / l), float32(t[4] / l), float32(t[5] / l)}
		}
		n.first[i+1] = n.first[i] + count[i]
	}
	n.pts = make([]int32, len(items))
	next := append([]int32(nil), n.first[:len(sum)]...)
	for k, i := range items {
		n.pts[next[of[k]]] = i
		next[of[k]]++
	}
	return n
}

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
