package mesh

import (
	"cmp"
	"slices"
)

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

// join makes one set of those of i and j, odd where they differ. If
// they are in one set already, what it says stays.
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
