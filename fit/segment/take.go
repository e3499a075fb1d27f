package segment

import (
	"context"
	"math"
	"slices"
	"sync"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// takeChunk is how many points are handed out between two looks at the context.
const takeChunk = 1 << 15

// claims says which surfaces may own the points of each cell of the nodes'
// grid.
type claims struct {
	first []int32 // of each cell in list, and the end
	list  []claim
}

// claim is a surface by its place in searcher.found, and whether all its nodes
// in the cell are amid nodes of the same surface.
type claim struct {
	id   int32
	deep bool
}

// claimsOf gathers the surfaces of the nodes of each cell and of the nodes next
// to them.
func claimsOf(n *nodes, g *graph, label []int32) *claims {
	head := make([]int32, n.cells.used) // 1 + first node of the cell
	next := make([]int32, n.len())
	for i := n.len() - 1; i >= 0; i-- {
		next[i] = head[n.in[i]]
		head[n.in[i]] = int32(i + 1)
	}
	c := &claims{first: make([]int32, len(head)+1), list: make([]claim, 0, len(head)+len(head)/8)}
	for k, h := range head {
		from := len(c.list)
		add := func(l int32, deep bool) {
			if l < 0 {
				return
			}
			for m := range c.list[from:] {
				if have := &c.list[from+m]; have.id == l {
					have.deep = have.deep && deep
					return
				}
			}
			c.list = append(c.list, claim{l, deep})
		}
		for i := h; i > 0; i = next[i-1] {
			deep := true
			for _, j := range g.of(i - 1) {
				deep = deep && (j < 0 || label[j] == label[i-1])
			}
			add(label[i-1], deep)
		}
		for i := h; i > 0; i = next[i-1] {
			for _, j := range g.of(i - 1) {
				if j >= 0 && label[j] != label[i-1] && !slices.ContainsFunc(c.list[from:], func(c claim) bool { return c.id == label[j] }) {
					add(label[j], false)
				}
			}
		}
		c.first[k+1] = int32(len(c.list))
	}
	return c
}

func (c *claims) of(cell int32) []claim { return c.list[c.first[cell]:c.first[cell+1]] }

// take hands the points of a level, all of the scan's if rest is nil, to the
// surfaces found: each goes to the nearest of those that claim its cell and
// hold it within their band. It returns the points that nothing took.
func (r *run) take(ctx context.Context, n *nodes, g *graph, sr *searcher, rest []int32) ([]int32, error) {
	base := int32(len(r.surfs))
	for _, f := range sr.found {
		r.surfs = append(r.surfs, surf{shape: f.shape, side: f.side, band: f.band, fades: f.fades})
	}
	t := taker{r, n, claimsOf(n, g, sr.label), base}
	count := len(rest)
	if rest == nil {
		count = len(r.of)
	}
	left := make([][]int32, (count+takeChunk-1)/takeChunk)
	var mu sync.Mutex
	err := chunks(ctx, count, takeChunk, r.jobs, func(lo, hi int) {
		got := make([]int, len(r.surfs))
		var free []int32
		for k := lo; k < hi; k++ {
			p := int32(k)
			if rest != nil {
				p = rest[k]
			}
			if r.junk != nil && r.junk[p] || r.s.Normals[p] == (mesh.Vec32{}) {
				continue
			}
			if at := t.point(p); at >= 0 {
				got[at]++
			} else {
				free = append(free, p)
			}
		}
		left[lo/takeChunk] = slices.Clone(free)
		mu.Lock()
		defer mu.Unlock()
		for k, n := range got {
			r.surfs[k].count += n
		}
	})
	return slices.Concat(left...), err
}

// taker hands out points.
type taker struct {
	*run
	n    *nodes
	c    *claims
	base int32
}

// point hands out point p and returns its surface, or -1. Where its cell holds
// no node, the cells next to it are asked.
func (t *taker) point(p int32) int32 {
	key, in := t.n.grid.at(t.s.Offsets[p])
	best, at, deep := math.Inf(1), int32(-1), false
	ask := func(cell int32) {
		for _, c := range t.c.of(cell) {
			if d, ok := t.holds(&t.surfs[t.base+c.id], p); ok && d < best {
				best, at, deep = d, t.base+c.id, c.deep
			}
		}
	}
	if cell := t.n.cells.find(key); cell >= 0 {
		ask(cell)
	} else {
		d := t.n.grid.sides(in)
		for m := 1; m < 8; m++ {
			k := key
			for c := range d {
				if m>>c&1 == 1 {
					k += d[c]
				}
			}
			if cell := t.n.cells.find(k); cell >= 0 {
				ask(cell)
			}
		}
	}
	if at >= 0 {
		t.of[p], t.deep[p] = at, deep
	}
	return at
}

// holds reports whether point p belongs to f, and its distance in bands.
func (r *run) holds(f *surf, p int32) (float64, bool) {
	d, m := f.at(r.s.Offsets[p].R3())
	d = math.Abs(d) / f.band
	if d > 1 {
		return d, false
	}
	cos := f.side * m.Dot(r.s.Normals[p].R3())
	if r.twoSd {
		cos = math.Abs(cos)
	}
	return d, cos > 0.7
}

const (
	crowdCells = 12 // edge of the cells that points are counted in, spacings
	crowdLeast = 12 // points of a cell that may show a surface
)

// crowded returns the points that have others near, so that they may show a
// surface: points astray, and those that noise took out of a band, do not.
func (r *run) crowded(points []int32) []int32 {
	edge := crowdCells * r.tex.Spacing
	near := make([]bool, len(points))
	for shift := range 2 {
		// Who is at the edge of one grid's cells is amid those of the other.
		off := (1 + 0.5*float64(shift)) * edge
		g := newCellGrid(r.lo.Sub(r3.Vector{X: off, Y: off, Z: off}), edge)
		table := newCellTable(len(points) / 4)
		var count []int32
		cell := make([]int32, len(points))
		for k, p := range points {
			c, fresh := table.id(g.key(r.s.Offsets[p]))
			if fresh {
				count = append(count, 0)
			}
			count[c]++
			cell[k] = c
		}
		for k, c := range cell {
			near[k] = near[k] || count[c] >= crowdLeast
		}
	}
	var out []int32
	for k, p := range points {
		if near[k] {
			out = append(out, p)
		}
	}
	return out
}
