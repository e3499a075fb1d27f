package segment

import (
	"context"
	"math"
	"slices"
	"sync"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// claims says which surfaces may own the points of each cell of the nodes'
// grid. It is a table of cells in eight bytes a slot, to lie in a core's own
// cache: half a hash tells the cell (two cells pass for one once in some 10^9
// points, and a point still has to lie on the surface).
type claims struct {
	slots []claimSlot
	mask  uint64
	lists [][]claim // of cells that not just one surface claims
}

// claimSlot is free where its value is zero; else that is a claim whose bit 0
// is set, or twice a place in lists.
type claimSlot struct {
	tag, value uint32
	off        float32 // of the one surface
}

// claim is a surface by its place in searcher.found, times four; bit 1 is set
// where all its nodes in the cell are amid nodes of the same surface.
type claim struct {
	v   uint32
	off float32 // how far the form lifts the cell off the shape, mm
}

func newClaim(l int32, deep bool, off float32) claim {
	v := uint32(l)<<2 | 1
	if deep {
		v |= 2
	}
	return claim{v, off}
}

func (c claim) id() int32  { return int32(c.v >> 2) }
func (c claim) deep() bool { return c.v&2 != 0 }

// claimsOf gathers the surfaces of the nodes of each cell and of the nodes next
// to them.
func claimsOf(n *nodes, g *graph, label []int32, off []float32) *claims {
	head := make([]int32, n.cells.used) // 1 + first node of the cell
	next := make([]int32, n.len())
	for i := n.len() - 1; i >= 0; i-- {
		next[i] = head[n.in[i]]
		head[n.in[i]] = int32(i + 1)
	}
	size := 1 << 10
	for size < 2*len(head) {
		size <<= 1
	}
	c := &claims{slots: make([]claimSlot, size), mask: uint64(size - 1), lists: make([][]claim, 2)}
	var list []claim
	add := func(l int32, deep bool, off float32) {
		for m, have := range list {
			if have.id() == l {
				list[m] = newClaim(l, deep && have.deep(), have.off)
				return
			}
		}
		list = append(list, newClaim(l, deep, off))
	}
	for _, s := range n.cells.slots {
		if s.id == 0 {
			continue
		}
		list = list[:0]
		for i := head[s.id-1]; i > 0; i = next[i-1] {
			l, deep := label[i-1], true
			for _, j := range g.of(i - 1) {
				if j >= 0 && label[j] != l {
					deep = false
					if label[j] >= 0 {
						add(label[j], false, off[j])
					}
				}
			}
			if l >= 0 {
				add(l, deep, off[i-1])
			}
		}
		var v claim
		switch len(list) {
		case 0:
			v.v = 2 // an empty list
		case 1:
			v = list[0]
		default:
			v.v = uint32(2 * len(c.lists))
			c.lists = append(c.lists, slices.Clone(list))
		}
		h := hash(s.key)
		at := h & c.mask
		for c.slots[at].value != 0 {
			at = (at + 1) & c.mask
		}
		c.slots[at] = claimSlot{uint32(h >> 32), v.v, v.off}
	}
	return c
}

// find returns the value of the cell with the given hash, 0 if it has no node.
func (c *claims) find(h uint64) claim {
	for at := h & c.mask; ; at = (at + 1) & c.mask {
		if s := c.slots[at]; s.value == 0 || s.tag == uint32(h>>32) {
			return claim{s.value, s.off}
		}
	}
}

// take hands the points of a level, all of the scan's if rest is nil, to the
// surfaces found: each goes to the nearest of those that claim its cell and
// hold it within their band. It returns the points that nothing took.
func (r *run) take(ctx context.Context, n *nodes, g *graph, sr *searcher, rest []int32) ([]int32, error) {
	base := len(r.surfs)
	for _, f := range sr.found {
		r.surfs = append(r.surfs, surf{shape: f.shape, side: f.side, band: f.band, fades: f.fades, form: f.form, rms: f.rms, rough: f.rough})
	}
	c := claimsOf(n, g, sr.label, sr.offsets())
	if base == 0 && r.known == nil {
		r.known = &known{c, n.grid}
	}
	count := len(rest)
	if rest == nil {
		count = len(r.of)
	}
	left := make([][]int32, (count+takeChunk-1)/takeChunk)
	var mu sync.Mutex
	err := parallel.Chunks(ctx, r.jobs, count, takeChunk, func(lo, hi int) {
		t := taker{run: r, grid: n.grid, c: c, base: int32(base), surfs: r.surfs[base:], got: make([]int, len(sr.found))}
		for k := lo; k < hi; k += takeBlock {
			t.block(rest, k, min(hi, k+takeBlock))
		}
		left[lo/takeChunk] = slices.Clone(t.free)
		mu.Lock()
		defer mu.Unlock()
		for k, n := range t.got {
			r.surfs[base+k].count += n
		}
	})
	return slices.Concat(left...), err
}

// taker hands out points.
type taker struct {
	*run
	grid  cellGrid
	c     *claims
	base  int32
	surfs []surf // of this level
	got   []int  // points by surface
	free  []int32
	point [takeBlock]int32
	hash  [takeBlock]uint64
	slot  [takeBlock]claimSlot
}

// block hands out points lo to hi, of rest if it is set.
func (t *taker) block(rest []int32, lo, hi int) {
	m := 0
	for k := lo; k < hi; k++ {
		p := int32(k)
		if rest != nil {
			p = rest[k]
		}
		if t.junk != nil && t.junk[p] || t.s.Normals[p] == (mesh.Vec32{}) && !t.tol.exact {
			continue
		}
		h := hash(t.grid.key(t.s.Offsets[p]))
		t.point[m], t.hash[m], t.slot[m] = p, h, t.c.slots[h&t.c.mask]
		m++
	}
	for k := range m {
		v := claim{t.slot[k].value, t.slot[k].off}
		if v.v != 0 && t.slot[k].tag != uint32(t.hash[k]>>32) {
			v = t.c.find(t.hash[k])
		}
		if at := t.give(t.point[k], v); at >= 0 {
			t.got[at]++
		} else {
			t.free = append(t.free, t.point[k])
		}
	}
}

// give hands out point p, v being what its cell's slot says, and returns its
// surface among surfs, or -1. Where the cell holds no node, the cells next to
// it are asked.
func (t *taker) give(p int32, v claim) int32 {
	b := bidder{run: t.run, surfs: t.surfs, p: p, at: -1}
	if v.v != 0 {
		b.ask(t.c, v)
	} else {
		key, in := t.grid.at(t.s.Offsets[p])
		t.grid.beside(key, in, func(key uint64) { b.ask(t.c, t.c.find(hash(key))) })
	}
	if b.at >= 0 {
		t.of[p], t.deep[p] = t.base+b.at, b.deep
	}
	return b.at
}

// bidder looks for the surface nearest to point p.
type bidder struct {
	*run
	surfs []surf
	p     int32
	best  float64 // distance in bands
	at    int32
	deep  bool
}

// ask asks the surfaces that a slot of value v names.
func (b *bidder) ask(c *claims, v claim) {
	if v.v&1 == 1 {
		b.try(v, true)
		return
	}
	for _, x := range c.lists[v.v/2] {
		b.try(x, x.deep())
	}
}

// try asks one surface. Where no other is near, or amid its own nodes, it takes
// what noise brings out of its band, too, lest there be pits in it; for the fit
// such points do not count.
func (b *bidder) try(x claim, alone bool) {
	wide := 1.0
	if alone && !b.tol.held {
		wide = 1.5
	}
	if d, ok := b.holds(&b.surfs[x.id()], b.p, wide, float64(x.off)); ok && (d < b.best || b.at < 0) {
		b.best, b.at, b.deep = d, x.id(), x.deep() && d <= 1
	}
}

// holds reports whether point p belongs to f, being no farther than so many
// bands, and its distance in bands.
func (r *run) holds(f *surf, p int32, wide, off float64) (float64, bool) {
	d, m := f.at(r.s.Offsets[p].R3())
	d = math.Abs(d-off) / f.band
	if d > wide {
		return d, false
	}
	least := 0.7
	if f.rough {
		least = roughCos
	}
	return d, f.side*m.Dot(r.s.Normals[p].R3()) > least || r.tol.exact
}

// crowded returns the points that have others near, so that they may show a
// surface: points astray, and those that noise took out of a band, do not.
func (r *run) crowded(ctx context.Context, points []int32) ([]int32, error) {
	edge := crowdCells * r.tex.Spacing
	var near [2][]bool
	err := parallel.Chunks(ctx, r.jobs, len(near), 1, func(shift, _ int) {
		// Who is at the edge of one grid's cells is amid those of the other.
		off := (1 + 0.5*float64(shift)) * edge
		g := newCellGrid(r.lo.Sub(r3.Vector{X: off, Y: off, Z: off}), edge)
		table := newCellTable(len(points) / 4)
		var count []int32
		cell := make([]int32, len(points))
		for k, p := range points {
			if k%lookEvery == 0 && ctx.Err() != nil {
				return
			}
			c, fresh := table.id(g.key(r.s.Offsets[p]))
			if fresh {
				count = append(count, 0)
			}
			count[c]++
			cell[k] = c
		}
		near[shift] = make([]bool, len(points))
		for k, c := range cell {
			near[shift][k] = count[c] >= crowdLeast
		}
	})
	if err != nil {
		return nil, err
	}
	var out []int32
	for k, p := range points {
		if near[0][k] || near[1][k] {
			out = append(out, p)
		}
	}
	return out, nil
}
