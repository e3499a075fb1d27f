package segment

import (
	"context"
	"math"
	"slices"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// claim says that the points of a cell of the nodes' grid may be a surface's.
type claim struct {
	of   int32   // its place in searcher.found
	off  float32 // how far the form lifts the cell off the shape, mm
	deep bool    // all its nodes in the cell are interior: the nodes around them are its own
}

// claimsOf gathers the surfaces of the nodes of each cell and of the nodes next
// to them.
func claimsOf(n *nodes, g *graph, label []int32, off []float32) [][]claim {
	out := make([][]claim, len(n.cells))
	for i, cell := range n.in {
		add := func(i int32, deep bool) {
			l, own := label[i], out[cell]
			if l < 0 {
				return
			}
			if k := slices.IndexFunc(own, func(x claim) bool { return x.of == l }); k >= 0 {
				own[k].deep = own[k].deep && deep
				return
			}
			out[cell] = append(own, claim{l, off[i], deep})
		}
		deep := true
		for _, j := range g.of(int32(i)) {
			if j >= 0 && label[j] != label[i] {
				deep = false
				add(j, false)
			}
		}
		add(int32(i), deep)
	}
	return out
}

// assign hands the points of a level, all of the scan's if rest is nil, to the
// surfaces found: each goes to the nearest of those that claim its cell and
// hold it within their band. It returns the points that nothing took.
func (r *run) assign(ctx context.Context, n *nodes, g *graph, sr *searcher, rest []int32) (
	[]int32, error) {
	base := len(r.surfs)
	for _, f := range sr.found {
		f.count = 0
		r.surfs = append(r.surfs, f.surf)
	}
	surfs := r.surfs[base:]
	c := claimsOf(n, g, sr.label, sr.offsets())
	count := len(rest)
	if rest == nil {
		count = len(r.of)
	}
	left := make([][]int32, (count+assignChunk-1)/assignChunk)
	got := make([][]int, len(left))
	err := parallel.Chunks(ctx, r.jobs, count, assignChunk, func(lo, hi int) {
		free, own := make([]int32, 0, hi-lo), make([]int, len(surfs))
		point, cell := make([]int32, hi-lo), make([]int32, hi-lo)
		for k := range point { // first of all, so that the waits for memory overlap
			point[k] = int32(lo + k)
			if rest != nil {
				point[k] = rest[lo+k]
			}
			cell[k] = n.cells.find(n.grid.key(r.s.Offsets[point[k]]))
		}
		for k, p := range point {
			if r.junk != nil && r.junk[p] || r.s.Normals[p] == (mesh.Vec32{}) {
				continue
			}
			var near []claim
			if cell[k] >= 0 {
				near = c[cell[k]]
			}
			if at, deep := r.nearest(near, surfs, p); at >= 0 {
				r.of[p], r.deep[p] = int32(base)+at, deep
				own[at]++
			} else {
				free = append(free, p)
			}
		}
		left[lo/assignChunk], got[lo/assignChunk] = slices.Clone(free), own
	})
	for _, own := range got {
		for k, n := range own {
			surfs[k].count += n
		}
	}
	return slices.Concat(left...), err
}

// nearest returns which of the surfaces that claim point p it belongs to, -1 for none, and
// whether it lies away from that one's edge. Interior points beyond the band belong to the
// surface, so that it has no pits, but not to the fit; so do others where no surface competes.
func (r *run) nearest(list []claim, surfs []surf, p int32) (at int32, deep bool) {
	o, n := r.s.Offsets[p], r.s.Normals[p].R3()
	q := o.R3()
	best := math.Inf(1) // distance in bands
	at = -1
	for _, x := range list {
		f := &surfs[x.of]
		d, m := f.at(q)
		d = math.Abs(d-float64(x.off)) / f.band
		wide := 1.0
		if (x.deep || len(list) == 1) && !r.tol.held {
			wide = besideBands
		}
		least := facesCos
		if f.rough {
			least = roughCos
		}
		if d <= wide && d < best && f.side*m.Dot(n) > least {
			best, at, deep = d, x.of, x.deep && d <= 1
		}
	}
	return at, deep
}
