package segment

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh"
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

// at returns the cell of o and where in it o lies, mm.
func (g cellGrid) at(o mesh.Vec32) (key uint64, in [3]float32) {
	x, y, z := float64(o[0])-g.lo.X, float64(o[1])-g.lo.Y, float64(o[2])-g.lo.Z
	i, j, k := uint64(x*g.inv), uint64(y*g.inv), uint64(z*g.inv)
	in = [3]float32{float32(x - float64(i)*g.cell), float32(y - float64(j)*g.cell), float32(z - float64(k)*g.cell)}
	return i<<cellBits<<cellBits | j<<cellBits | k, in
}

// key returns the cell of o.
func (g cellGrid) key(o mesh.Vec32) uint64 {
	i, j, k := uint64((float64(o[0])-g.lo.X)*g.inv), uint64((float64(o[1])-g.lo.Y)*g.inv), uint64((float64(o[2])-g.lo.Z)*g.inv)
	return i<<cellBits<<cellBits | j<<cellBits | k
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

// sides returns the step in the key to the next cell along each axis, toward
// the side of the cell on which in lies.
func (g cellGrid) sides(in [3]float32) (d [3]uint64) {
	for c := range d {
		d[c] = 1 << (cellBits * (2 - c))
		if float64(in[c]) < g.cell/2 {
			d[c] = -d[c]
		}
	}
	return d
}

// beside calls f for the seven cells that touch the corner of a cell next to
// which in lies.
func (g cellGrid) beside(key uint64, in [3]float32, f func(key uint64)) {
	d := g.sides(in)
	for m := 1; m < 8; m++ {
		k := key
		for c := range d {
			if m>>c&1 == 1 {
				k += d[c]
			}
		}
		f(k)
	}
}

// cellTable gives consecutive numbers to keys: open addressing with linear
// steps over a power of two.
type cellTable struct {
	slots []cellSlot
	mask  uint64
	used  int
}

type cellSlot struct {
	key uint64
	id  int32 // 1 + the number, 0 where the slot is free
}

func newCellTable(hint int) *cellTable {
	size := 1 << 12
	for size < 2*hint {
		size <<= 1
	}
	t := &cellTable{}
	t.alloc(size)
	return t
}

func (t *cellTable) alloc(size int) {
	t.slots = make([]cellSlot, size)
	t.mask = uint64(size - 1)
}

// id returns the number of key, or gives it the next if it is new.
func (t *cellTable) id(key uint64) (id int32, fresh bool) {
	if 2*t.used >= len(t.slots) {
		t.grow()
	}
	for h := hash(key) & t.mask; ; h = (h + 1) & t.mask {
		s := &t.slots[h]
		if s.id == 0 {
			t.used++
			*s = cellSlot{key, int32(t.used)}
			return s.id - 1, true
		}
		if s.key == key {
			return s.id - 1, false
		}
	}
}

// find returns the number of key, or -1.
func (t *cellTable) find(key uint64) int32 {
	for h := hash(key) & t.mask; ; h = (h + 1) & t.mask {
		s := &t.slots[h]
		if s.id == 0 || s.key == key {
			return s.id - 1
		}
	}
}

func (t *cellTable) grow() {
	old := t.slots
	t.alloc(2 * len(old))
	for _, s := range old {
		if s.id == 0 {
			continue
		}
		h := hash(s.key) & t.mask
		for t.slots[h].id != 0 {
			h = (h + 1) & t.mask
		}
		t.slots[h] = s
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

// dominant returns which of the six axis directions n is nearest to, 0 to 5.
func dominant(n mesh.Vec32) uint64 {
	x, y, z := n[0], n[1], n[2]
	ax, ay, az := absolute(x), absolute(y), absolute(z)
	k, v := uint64(0), x
	if ay > ax {
		k, v, ax = 2, y, ay
	}
	if az > ax {
		k, v = 4, z
	}
	if v < 0 {
		k++
	}
	return k
}

func absolute(x float32) float32 { return math.Float32frombits(math.Float32bits(x) &^ (1 << 31)) }
