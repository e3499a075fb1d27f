package mesh

import (
	"cmp"
	"context"
	"slices"
)

// HalfEdge is an edge of one triangle, along its winding.
type HalfEdge struct{ From, To, Triangle int32 }

// other returns the end of h that v is not.
func (h HalfEdge) other(v int32) int32 { return h.From + h.To - v }

// VisitEdges visits the edges of a mesh, each as the half-edges that make it,
// which are valid during the call only: all edges, or at least those that are
// not of the plain kind, which two triangles use in opposite directions. Edges
// come by their lower vertex, then their higher one.
//
// To find what is not plain, each vertex sums a hash of the other end of its edges to
// higher vertices, those that run to it taken off those that run from it. Where that is
// zero all edges are plain, but by a chance of 2^-64; only the half-edges of other
// vertices are listed.
func VisitEdges(ctx context.Context, s *Scan, all bool, visit func(edge []HalfEdge)) error {
	half := func(do func(low, high int32, up bool, triangle int32)) {
		for i := range s.Triangles {
			t := &s.Triangles[i]
			from := t[2]
			for _, to := range t {
				do(min(from, to), max(from, to), from < to, int32(i))
				from = to
			}
		}
	}
	sum := make([]uint64, s.Len())
	half(func(low, high int32, up bool, _ int32) {
		if up {
			sum[low] += mixed(uint32(high))
		} else {
			sum[low] -= mixed(uint32(high))
		}
	})
	// Half-edges in buckets by lower vertex: counted, then placed.
	end := make([]int32, s.Len()+1)
	half(func(low, _ int32, _ bool, _ int32) {
		if all || sum[low] != 0 {
			end[low+1]++
		}
	})
	for v := range s.Len() {
		end[v+1] += end[v]
	}
	at := make([]HalfEdge, end[s.Len()])
	half(func(low, high int32, up bool, triangle int32) {
		if all || sum[low] != 0 {
			h := HalfEdge{low, high, triangle}
			if !up {
				h.From, h.To = high, low
			}
			at[end[low]] = h
			end[low]++
		}
	})
	begin := int32(0)
	for v := range s.Len() {
		if v%itemChunk == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		around := at[begin:end[v]]
		begin = end[v]
		higher := func(h HalfEdge) int32 { return max(h.From, h.To) }
		slices.SortFunc(around, func(a, b HalfEdge) int {
			return cmp.Or(cmp.Compare(higher(a), higher(b)), cmp.Compare(a.Triangle, b.Triangle))
		})
		for i := 0; i < len(around); {
			j := i + 1
			for j < len(around) && higher(around[j]) == higher(around[i]) {
				j++
			}
			visit(around[i:j])
			i = j
		}
	}
	return nil
}

// openEdges returns the edges that exactly one triangle uses, by their lower
// vertex, and whether two triangles that share an edge are wound against each
// other.
func openEdges(ctx context.Context, s *Scan) (open []HalfEdge, disagree bool) {
	_ = VisitEdges(ctx, s, false, func(e []HalfEdge) {
		if len(e) == 1 && e[0].From != e[0].To {
			open = append(open, e[0])
		}
		disagree = disagree || len(e) == 2 && e[0].From == e[1].From && e[0].From != e[0].To
	})
	return open, disagree
}

// mixed is a hash (the finaliser of SplitMix64, Steele, Lea & Flood 2014).
func mixed(v uint32) uint64 {
	x := uint64(v) + 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// ConnectedComponents labels the connected pieces of a mesh: one number a
// point, 0 the largest, and the number of triangles of each. Triangles that
// share a vertex are connected; vertices that no triangle uses share the last
// label, of size 0. Of pieces of equal size the one with the lowest point
// number is first.
func ConnectedComponents(s *Scan) (label []int32, sizes []int) {
	sets := newParitySets(s.Len())
	for i := range s.Triangles {
		t := &s.Triangles[i]
		sets.join(t[0], t[1], false)
		sets.join(t[1], t[2], false)
	}
	label = make([]int32, s.Len())
	count := make([]int, s.Len())
	for i := range s.Triangles {
		r, _ := sets.root(s.Triangles[i][0])
		count[r]++
	}
	var roots []int32
	for i, c := range count {
		if c > 0 {
			roots = append(roots, int32(i))
		}
	}
	slices.SortFunc(roots, func(a, b int32) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	})
	for k, r := range roots {
		sizes = append(sizes, count[r])
		count[r] = k - len(roots) // the label takes the count's place, below those of no triangle
	}
	loose := false
	for i := range label {
		r, _ := sets.root(int32(i))
		label[i] = int32(count[r] + len(roots))
		loose = loose || count[r] == 0
	}
	if loose {
		sizes = append(sizes, 0)
	}
	return label, sizes
}

// paritySets are disjoint sets of numbers, each number even or odd against its
// parent.
type paritySets struct {
	parent []int32
	odd    []bool
}

func newParitySets(n int) *paritySets {
	p := &paritySets{make([]int32, n), make([]bool, n)}
	for i := range p.parent {
		p.parent[i] = int32(i)
	}
	return p
}

// root returns the lowest number of i's set, and whether i is odd against it.
func (p *paritySets) root(i int32) (root int32, odd bool) {
	for p.parent[i] != i {
		up := p.parent[i]
		p.odd[i] = p.odd[i] != p.odd[up]
		p.parent[i] = p.parent[up]
		odd = odd != p.odd[i]
		i = p.parent[i]
	}
	return i, odd
}

// join makes one set of the two that hold i and j, odd where they differ. If they are in one
// set already, what it says stays.
func (p *paritySets) join(i, j int32, odd bool) {
	i, oddI := p.root(i)
	j, oddJ := p.root(j)
	if i > j {
		i, j = j, i
	}
	if i != j {
		p.parent[j] = i
		p.odd[j] = oddI != oddJ != odd
	}
}
