package mesh

import (
	"cmp"
	"slices"
)

// Islands labels the connected pieces of a scan: one number a point, 0 the
// largest, and their sizes.
//
// On a mesh, triangles that share a vertex are connected, and a size counts
// triangles; vertices that no triangle uses share the last label, of size 0.
// On a cloud, points within reach mm of one another are connected, and a size
// counts points; reach of zero or less means four times the spacing found in
// the data. ix is an index of s.Offsets, needed for clouds only; nil builds
// one. Of pieces of equal size the one with the lowest point number is first.
func Islands(s *Scan, ix *Index, reach float64) (label []int32, sizes []int) {
	sets := newSets(s.Len())
	count := make([]int, s.Len())
	if s.IsMesh() {
		for i := range s.Triangles {
			t := &s.Triangles[i]
			a, b, c := sets[t[0]], sets[t[1]], sets[t[2]]
			if a != b || b != c {
				sets.join(sets.join(a, b), c)
			}
		}
		sets.flatten()
		for i := range s.Triangles {
			count[sets[s.Triangles[i][0]]]++
		}
	} else {
		joinWithin(sets, s, ix, reach)
		sets.flatten()
		for _, r := range sets {
			count[r]++
		}
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

// disjoint holds sets of numbers: union to the lowest number, path halving
// (Tarjan & van Leeuwen 1984).
type disjoint []int32

func newSets(n int) disjoint {
	d := make(disjoint, n)
	for i := range d {
		d[i] = int32(i)
	}
	return d
}

// root returns the lowest number of the set that i is in.
func (d disjoint) root(i int32) int32 {
	for d[i] != i {
		d[i] = d[d[i]]
		i = d[i]
	}
	return i
}

// flatten makes the root of each number the one it points to.
func (d disjoint) flatten() {
	for i, r := range d {
		d[i] = d[r] // r, not larger than i, points to its root by now
	}
}

// join makes one set of those of i and j and returns its root.
func (d disjoint) join(i, j int32) int32 {
	i, j = d.root(i), d.root(j)
	if i > j {
		i, j = j, i
	}
	d[j] = i
	return i
}
