package segment

import (
	"context"
	"math"

	"spotface/mesh"
	"spotface/mesh/parallel"
)

// known are the surfaces of the first level, by the cells that they claim.
type known struct {
	claims *claims
	grid   cellGrid
}

// near calls f for each surface that claims the cell of o or, where no node is
// in that, one next to it.
func (k *known) near(o mesh.Vec32, f func(c claim)) {
	ask := func(v claim) {
		if v.v&1 == 1 {
			f(v)
			return
		}
		for _, x := range k.claims.lists[v.v/2] {
			f(x)
		}
	}
	key, in := k.grid.at(o)
	if v := k.claims.find(hash(key)); v.v != 0 {
		ask(v)
		return
	}
	k.grid.beside(key, in, func(key uint64) { ask(k.claims.find(hash(key))) })
}

// margin is how far, mm, from a surface's band of half width band the rounding
// of its edges and the tails of its noise reach: nothing closer to it can be
// told from those.
func margin(band, spacing float64) float64 { return max(1.5*band, 0.75*spacing) }

// leave takes from the seeds the nodes that lie beside a surface of the first
// level: most of what that left over is the rounding of its edges.
func (r *run) leave(ctx context.Context, n *nodes, seeds []bool) error {
	if r.known == nil {
		return nil
	}
	return parallel.Chunks(ctx, r.jobs, n.len(), 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if !seeds[i] {
				continue
			}
			r.known.near(n.pos[i], func(c claim) {
				f := &r.surfs[c.id()]
				if d, _ := f.at(n.at(int32(i))); math.Abs(d-float64(c.off)) < margin(f.band, r.tex.Spacing) {
					seeds[i] = false
				}
			})
		}
	})
}

// besides reports whether free node i is next to a surface found and so near it
// that it would be no seed of another.
func (s *searcher) besides(i int32) bool {
	for _, j := range s.g.of(i) {
		if j < 0 || s.label[j] < 0 {
			continue
		}
		f := &s.found[s.label[j]]
		if d, _ := f.at(s.n.at(i)); math.Abs(d) < max(1.5*f.band, 0.35*s.pitch) {
			return true
		}
	}
	return false
}
