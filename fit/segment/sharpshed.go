package segment

import (
	"math"
	"slices"
)

// shed gives up the planes that are facets of a round wall. A cloud strewn over
// the mesh of a drawing lies on its facets, which are as exact as faces are; but
// four and more that follow each other at small angles are a wall, and what they
// stray from it is left to the search for noisy surfaces. A face that meets such
// a wall smoothly is wider than they are and stays.
func (x *sharp) shed() {
	r := x.r
	up := make([]int, len(r.surfs)) // union of those that follow each other
	for k := range up {
		up[k] = k
	}
	root := func(k int) int {
		for up[k] != k {
			up[k] = up[up[k]]
			k = up[k]
		}
		return k
	}
	for pair, n := range x.touching() {
		a, b := &r.surfs[pair[0]], &r.surfs[pair[1]]
		sin := a.a.Cross(b.a).Norm()
		if n >= chainTouch && sin > math.Sin(0.2*math.Pi/180) && sin < math.Sin(chainAngle) && math.Abs(a.a.Dot(b.a)) > 0.5 {
			up[root(int(pair[0]))] = root(int(pair[1]))
		}
	}
	lists := r.lists()
	width := make([]float64, len(r.surfs))
	chains := make([][]int, len(r.surfs))
	for k := range r.surfs {
		if f := &r.surfs[k]; f.kind == planeKind && f.count > 0 {
			a, b := widths(r.points(r.some(lists[k], 500)), f.a)
			width[k] = min(a, b)
			chains[root(k)] = append(chains[root(k)], k)
		}
	}
	for _, c := range chains {
		if len(c) < chainLeast {
			continue
		}
		sorted := make([]float64, len(c))
		for i, k := range c {
			sorted[i] = width[k]
		}
		slices.Sort(sorted)
		for _, k := range c {
			if width[k] > chainWide*sorted[len(c)/2] {
				continue
			}
			for _, p := range lists[k] {
				r.of[p] = -1
			}
			r.surfs[k].count = 0
		}
	}
}

// touching counts the pairs of neighbouring points of two planes.
func (x *sharp) touching() map[[2]int32]int {
	r := x.r
	out := map[[2]int32]int{}
	for p, a := range r.of {
		if a < 0 || r.surfs[a].kind != planeKind {
			continue
		}
		for _, q := range x.of(int32(p)) {
			if q < 0 {
				continue
			}
			if b := r.of[q]; b > a && r.surfs[b].kind == planeKind {
				out[[2]int32{a, b}]++
			}
		}
	}
	return out
}
