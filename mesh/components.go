package mesh

import (
	"cmp"
	"slices"

	"spotface/mesh/geom"
)

// ConnectedComponents labels the connected pieces of a mesh: one number a
// point, 0 the largest, and the number of triangles of each. Triangles that
// share a vertex are connected; vertices that no triangle uses share the last
// label, of size 0. Of pieces of equal size the one with the lowest point
// number is first.
func ConnectedComponents(s *Scan) (label []int32, sizes []int) {
	sets := geom.NewSets(s.Len())
	count := make([]int, s.Len())
	for i := range s.Triangles {
		t := &s.Triangles[i]
		a, b, c := sets[t[0]], sets[t[1]], sets[t[2]]
		if a != b || b != c {
			sets.Join(sets.Join(a, b), c)
		}
	}
	sets.Flatten()
	for i := range s.Triangles {
		count[sets[s.Triangles[i][0]]]++
	}
	var roots []int32
	loose := false
	for i, c := range count {
		if c > 0 {
			roots = append(roots, int32(i))
		} else if sets[i] == int32(i) {
			loose = true
		}
	}
	slices.SortFunc(roots, func(a, b int32) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	})
	for _, r := range roots {
		sizes = append(sizes, count[r])
	}
	if loose {
		sizes = append(sizes, 0)
	}
	for i := range count { // the label of each set, by its root, takes the place of its count
		count[i] = len(roots)
	}
	for k, r := range roots {
		count[r] = k
	}
	for i, r := range sets {
		sets[i] = int32(count[r])
	}
	return sets, sizes
}
