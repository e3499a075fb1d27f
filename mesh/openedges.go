package mesh

import (
	"cmp"
	"slices"
)

// openEdge is an edge of one triangle, from its winding, and that triangle.
type openEdge struct{ from, to, triangle int32 }

// openEdges returns the edges that exactly one triangle uses, by their lower
// vertex. The half-edges are sorted into buckets by lower vertex, a handful
// each, and paired there: 12 bytes a triangle and no hash table. As in
// meshNormals, every goroutine looks after vertices of its own.
func openEdges(s *Scan) []openEdge {
	jobs := min(jobCount(0), 8)
	part := max(1, (s.Len()+jobs-1)/jobs)
	parts := make([][]openEdge, jobs)
	everyChunk(s.Len(), part, func(lo, hi int) {
		parts[lo/part] = openEdgesAt(s, int32(lo), int32(hi))
	})
	return slices.Concat(parts...)
}

// openEdgesAt returns those whose lower vertex is in [lo, hi).
func openEdgesAt(s *Scan, lo, hi int32) (open []openEdge) {
	own := uint32(hi - lo)
	start := make([]int32, hi-lo+1)
	for _, t := range s.Triangles {
		for _, v := range [3]int32{min(t[0], t[1]), min(t[1], t[2]), min(t[2], t[0])} {
			if uint32(v-lo) < own {
				start[v-lo]++
			}
		}
	}
	sum := int32(0)
	for v, c := range start {
		start[v] = sum
		sum += c
	}
	// A half-edge is its triangle and corner in one number.
	half := make([]int32, sum)
	for i, t := range s.Triangles {
		for k, v := range [3]int32{min(t[0], t[1]), min(t[1], t[2]), min(t[2], t[0])} {
			if uint32(v-lo) < own {
				half[start[v-lo]] = int32(i)<<2 | int32(k)
				start[v-lo]++
			}
		}
	}
	ends := func(h int32) (from, to int32) {
		t := &s.Triangles[h>>2]
		k := h & 3
		return t[k], t[(k+1)%3]
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
