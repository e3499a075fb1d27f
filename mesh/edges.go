package mesh

import (
	"cmp"
	"context"
	"slices"

	"spotface/mesh/parallel"
)

// halfEdge is an edge of one triangle, along its winding.
type halfEdge struct{ from, to, triangle int32 }

// higher returns the higher of the edge's vertices.
func (h halfEdge) higher() int32 { return max(h.from, h.to) }

// visitEdges visits the edges of a mesh, each as the half-edges that make it,
// which are valid during the call only: all edges, or at least those that are
// not of the plain kind, which two triangles use in opposite directions. Edges
// come by their lower vertex, then their higher one, from part 0, 1, ... of
// the vertices; parts run at once, and their number depends on jobs, their
// order does not.
//
// To find what is not plain, every part sums, at each of its vertices, a hash
// of the other end of the edges to higher vertices, those that run to it taken
// off those that run from it. Where that is zero all edges are plain, but by a
// chance of 2^-64; only the half-edges of other vertices are listed.
func visitEdges(ctx context.Context, s *Scan, jobs int, all bool,
	visit func(part int, edge []halfEdge)) error {
	size := max(1, (s.Len()+meshParts(jobs)-1)/meshParts(jobs))
	return parallel.Chunks(ctx, jobs, s.Len(), size, func(lo, hi int) {
		first, own := int32(lo), uint32(hi-lo)
		sum := make([]uint64, hi-lo)
		for i := range s.Triangles {
			t := &s.Triangles[i]
			from := t[2]
			for _, to := range t {
				if from < to {
					if uint32(from-first) < own {
						sum[from-first] += mixed(uint32(to))
					}
				} else if uint32(to-first) < own {
					sum[to-first] -= mixed(uint32(from))
				}
				from = to
			}
		}
		// Half-edges in buckets by lower vertex: counted, then placed.
		start := make([]int32, hi-lo+1)
		var at []halfEdge
		for _, place := range [2]bool{false, true} {
			for i := range s.Triangles {
				t := &s.Triangles[i]
				from := t[2]
				for _, to := range t {
					v := min(from, to) - first
					if uint32(v) < own && (all || sum[v] != 0) {
						if place {
							at[start[v]] = halfEdge{from, to, int32(i)}
						}
						start[v]++
					}
					from = to
				}
			}
			if !place {
				next := int32(0)
				for v, n := range start {
					start[v] = next
					next += n
				}
				at = make([]halfEdge, next)
			}
		}
		begin := int32(0)
		for v := range hi - lo {
			around := at[begin:start[v]]
			begin = start[v]
			slices.SortFunc(around, func(a, b halfEdge) int {
				return cmp.Or(cmp.Compare(a.higher(), b.higher()), cmp.Compare(a.triangle, b.triangle))
			})
			for i := 0; i < len(around); {
				j := i + 1
				for j < len(around) && around[j].higher() == around[i].higher() {
					j++
				}
				visit(lo/size, around[i:j])
				i = j
			}
		}
	})
}

// meshParts returns into how many parts the vertices of a mesh are divided for
// loops in which each goroutine walks all triangles and looks after its own
// vertices. That needs no lists of who touches whom, but past a few goroutines
// the walks are all there is.
func meshParts(jobs int) int { return min(parallel.Jobs(jobs), mostParts) }

// openEdges returns the edges that exactly one triangle uses, by their lower
// vertex, and whether two triangles that share an edge are wound against each
// other.
func openEdges(ctx context.Context, s *Scan, jobs int) (open []halfEdge, disagree bool, err error) {
	parts := make([][]halfEdge, meshParts(jobs))
	against := make([]bool, len(parts))
	err = visitEdges(ctx, s, jobs, false, func(part int, e []halfEdge) {
		if len(e) == 1 && e[0].from != e[0].to {
			parts[part] = append(parts[part], e[0])
		}
		against[part] = against[part] || len(e) == 2 && e[0].from == e[1].from && e[0].from != e[0].to
	})
	return slices.Concat(parts...), slices.Contains(against, true), err
}

// mixed is a hash (the finaliser of SplitMix64, Steele, Lea & Flood 2014).
func mixed(v uint32) uint64 {
	x := uint64(v) + 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
