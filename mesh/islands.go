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
		for _, t := range s.Triangles {
			sets.join(sets.join(t[0], t[1]), t[2])
		}
		for _, t := range s.Triangles {
			count[sets.root(t[0])]++
		}
	} else {
		joinWithin(sets, s, ix, reach)
		for i := range count {
			count[sets.root(int32(i))]++
		}
	}
	var roots []int32
	loose := false
	for i, c := range count {
		if c > 0 {
			roots = append(roots, int32(i))
		} else if sets.root(int32(i)) == int32(i) {
			loose = true
		}
	}
	slices.SortFunc(roots, func(a, b int32) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	})
	number := make([]int32, s.Len())
	for i := range number {
		number[i] = int32(len(roots))
	}
	for k, r := range roots {
		number[r] = int32(k)
		sizes = append(sizes, count[r])
	}
	if loose {
		sizes = append(sizes, 0)
	}
	label = make([]int32, s.Len())
	for i := range label {
		label[i] = number[sets.root(int32(i))]
	}
	return label, sizes
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

// join makes one set of those of i and j and returns its root.
func (d disjoint) join(i, j int32) int32 {
	i, j = d.root(i), d.root(j)
	if i > j {
		i, j = j, i
	}
	d[j] = i
	return i
}
