package mesh

import (
	"cmp"
	"context"
	"slices"
)

// openEdge is an edge of one triangle, from its winding, and that triangle.
type openEdge struct{ from, to, triangle int32 }

// openEdges returns the edges that exactly one triangle uses, by their lower
// vertex. As in meshNormals, every goroutine looks after vertices of its own.
func openEdges(s *Scan) []openEdge {
	jobs := min(jobCount(0), 8)
	part := max(1, (s.Len()+jobs-1)/jobs)
	parts := make([][]openEdge, jobs)
	_ = eachChunk(context.Background(), 0, s.Len(), part, func(lo, hi int) {
		parts[lo/part] = openEdgesAt(s, int32(lo), int32(hi))
	})
	return slices.Concat(parts...)
}

// openEdgesAt returns those whose lower vertex is in [lo, hi).
//
// Within a surface each edge runs both ways. Every vertex sums a hash of the
// other end of its edges, those that run to it taken off those that run from it:
// where that comes to zero, no edge is open, but by a chance of 2^-64. Elsewhere
// some are open, or used by three triangles, or by two that are wound against each
// other: only those half-edges are paired, in buckets by vertex.
func openEdgesAt(s *Scan, lo, hi int32) (open []openEdge) {
	own := uint32(hi - lo)
	sum := make([]uint64, hi-lo)
	for i := range s.Triangles {
		t := &s.Triangles[i]
		from := t[2]
		for _, to := range t {
			if from < to {
				if uint32(from-lo) < own {
					sum[from-lo] += mixed(uint32(to))
				}
			} else if uint32(to-lo) < own {
				sum[to-lo] -= mixed(uint32(from))
			}
			from = to
		}
	}
	start := make([]int32, hi-lo+1) // of each vertex's bucket
	var odd []int32                 // half-edges: a triangle and its corner in one number
	for i := range s.Triangles {
		t := &s.Triangles[i]
		for k, v := range [3]int32{min(t[0], t[1]), min(t[1], t[2]), min(t[2], t[0])} {
			if uint32(v-lo) < own && sum[v-lo] != 0 {
				odd = append(odd, int32(i)<<2|int32(k))
				start[v-lo]++
			}
		}
	}
	first := int32(0)
	for v, c := range start {
		start[v] = first
		first += c
	}
	ends := func(h int32) (from, to int32) {
		t := &s.Triangles[h>>2]
		k := h & 3
		return t[k], t[(k+1)%3]
	}
	half := make([]int32, len(odd))
	for _, h := range odd {
		v := min(ends(h)) - lo
		half[start[v]] = h
		start[v]++
	}
	begin := int32(0)
	for v := range hi - lo {
		bucket := half[begin:start[v]]
		begin = start[v]
		if len(bucket) > manyEdges {
			open = append(open, openOfMany(bucket, ends)...)
			continue
		}
		for i, h := range bucket {
			from, to := ends(h)
			single := from != to
			for j, g := range bucket {
				if a, b := ends(g); i != j && int64(a)+int64(b) == int64(from)+int64(to) {
					single = false
					break
				}
			}
			if single {
				open = append(open, openEdge{from, to, h >> 2})
			}
		}
	}
	return open
}

// mixed is a hash (the finaliser of SplitMix64, Steele, Lea & Flood 2014).
func mixed(v uint32) uint64 {
	x := uint64(v) + 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// manyEdges is the number of half-edges at a vertex from which on sorting them
// is faster than comparing each with each.
const manyEdges = 32

// openOfMany returns the open ones among the half-edges with one lower vertex.
func openOfMany(bucket []int32, ends func(h int32) (from, to int32)) (open []openEdge) {
	// With the lower vertex common, the sum of both orders by the other.
	other := func(h int32) int64 {
		from, to := ends(h)
		return int64(from) + int64(to)
	}
	slices.SortFunc(bucket, func(g, h int32) int {
		return cmp.Or(cmp.Compare(other(g), other(h)), cmp.Compare(g, h))
	})
	for i, h := range bucket {
		from, to := ends(h)
		if from == to || i > 0 && other(bucket[i-1]) == other(h) || i+1 < len(bucket) && other(bucket[i+1]) == other(h) {
			continue
		}
		open = append(open, openEdge{from, to, h >> 2})
	}
	return open
}
