package mesh

import (
	"cmp"
	"context"
	"math"
	"slices"
)

const facetNeighbours = 10

// link says how strongly two facets, or later two groups of them, speak for
// facing the same way (positive) or opposite ways as their normals stand.
type link struct {
	a, b   int32 // a < b
	weight float64
}

// links joins each facet to its nearest ones.
//
// If a surface bends from one facet to the other as an arc does, the one's
// normal is the other's reflected across the plane halfway between them
// (Xie, Wang, Hua, Qin & Kaufman 2003, Piecewise C1 continuous surface
// reconstruction, section 3):
//
//	n1' = n1 - 2 (n1·e) e    e the direction from one to the other
//
// and s = n1'·n2 tells the side. It holds for sharp edges too, and across thin
// sheets and gaps, where comparing n1 with n2 fails. Steps that may be noise do
// not count in e, lest two facets side by side be taken for the sides of a
// sheet.
func links(ctx context.Context, fs []facet, noise float64, jobs int) ([]link, error) {
	at := make([]Vec32, len(fs))
	for i, f := range fs {
		at[i] = Vec32{float32(f.at[0]), float32(f.at[1]), float32(f.at[2])}
	}
	ix := NewKDTree(at, jobs)
	parts := make([][]link, (len(fs)+1023)/1024)
	err := eachChunk(ctx, jobs, len(fs), 1024, func(lo, hi int) {
		var nb []Neighbour
		var out []link
		for i := lo; i < hi; i++ {
			nb = ix.Nearest(at[i], facetNeighbours+1, 0, nb[:0])
			for _, n := range nb {
				j := int(n.I)
				if j == i {
					continue
				}
				out = append(out, link{int32(min(i, j)), int32(max(i, j)), agreement(&fs[i], &fs[j], noise)})
			}
		}
		parts[lo/1024] = out
	})
	if err != nil {
		return nil, err
	}
	return mergeLinks(slices.Concat(parts...)), nil
}

// agreement weighs s of two facets, sharpened so that doubtful pairs count
// little, by how near they are for their size.
func agreement(f, g *facet, noise float64) float64 {
	e := [3]float64{g.at[0] - f.at[0], g.at[1] - f.at[1], g.at[2] - f.at[2]}
	d2 := dot(e, e)
	s := dot(f.normal, g.normal)
	if d2 > 0 {
		s -= 2 * beyond(dot(f.normal, e), noise) * beyond(dot(g.normal, e), noise) / d2
	}
	reach := f.size + g.size
	return s * math.Abs(s) * math.Abs(s) * min(f.size, g.size) / (1 + d2/(reach*reach+1e-30))
}

// beyond returns by how much h is outside ±noise.
func beyond(h, noise float64) float64 {
	return math.Copysign(max(0, math.Abs(h)-noise), h)
}

// mergeLinks sums the links between the same two and drops those of one with
// itself.
func mergeLinks(l []link) []link {
	slices.SortStableFunc(l, func(x, y link) int {
		return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b))
	})
	out := l[:0]
	for _, k := range l {
		if k.a == k.b {
			continue
		}
		if n := len(out); n > 0 && out[n-1].a == k.a && out[n-1].b == k.b {
			out[n-1].weight += k.weight
			continue
		}
		out = append(out, k)
	}
	return out
}

// settle groups facets that hang together and turns each group's to one side:
// it returns each one's group and sign.
//
// Groups grow by joining with that neighbour for which the sum of all links
// between them speaks most clearly, the smaller into the larger, so that a
// side is never decided by one link where there are many. This is the
// propagation along a minimum spanning tree of Hoppe et al. (1992), with every
// edge of the graph having its say.
func settle(ctx context.Context, fs []facet, l []link) (group []int32, sign []float64, err error) {
	n := len(fs)
	group, sign = make([]int32, n), make([]float64, n)
	size := make([]float64, n)
	for i := range n {
		group[i], sign[i], size[i] = int32(i), 1, fs[i].area
	}
	best := make([]int32, n) // link of each group
	into := make([]int32, n)
	flip := make([]float64, n)
	first := l
	stages := [][]int32{slices.Clone(group)}
	l = slices.Clone(l)
	for len(l) > 0 {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		for i := range n {
			best[i], into[i], flip[i] = -1, int32(i), 1
		}
		for k, e := range l {
			for _, g := range [2]int32{e.a, e.b} {
				if best[g] < 0 || math.Abs(e.weight) > math.Abs(l[best[g]].weight) {
					best[g] = int32(k)
				}
			}
		}
		for g := range int32(n) {
			if best[g] < 0 {
				continue
			}
			e := l[best[g]]
			to := e.a + e.b - g
			// The smaller joins the larger; of equals the later the earlier.
			if size[g] > size[to] || size[g] == size[to] && g < to {
				continue
			}
			into[g] = to
			if e.weight < 0 {
				flip[g] = -1
			}
		}
		// Follow the chains, which lead to ever larger groups, to their ends.
		for g := range int32(n) {
			end, f := g, 1.0
			for into[end] != end {
				f *= flip[end]
				end = into[end]
			}
			for k := g; into[k] != k; { // shorten
				next, was := into[k], flip[k]
				into[k], flip[k] = end, f
				f *= was
				k = next
			}
		}
		for g := range n {
			if to := into[g]; to != int32(g) {
				size[to] += size[g]
			}
		}
		for i := range n {
			g := group[i]
			sign[i] *= flip[g]
			group[i] = into[g]
		}
		for k, e := range l {
			w := e.weight * flip[e.a] * flip[e.b]
			a, b := into[e.a], into[e.b]
			l[k] = link{min(a, b), max(a, b), w}
		}
		l = mergeLinks(l)
		stages = append(stages, slices.Clone(group))
	}
	// What joined on too little evidence is outvoted by all its neighbours now:
	// groups as they were on the way, the latest first, then single facets.
	for i := len(stages) - 1; i >= 0; i-- {
		outvote(stages[i], first, sign)
	}
	return group, sign, nil
}

// outvote turns those groups whose links to others, all together, speak
// against their side.
func outvote(group []int32, l []link, sign []float64) {
	for range 3 {
		vote := make([]float64, len(group))
		for _, e := range l {
			if a, b := group[e.a], group[e.b]; a != b {
				v := e.weight * sign[e.a] * sign[e.b]
				vote[a] += v
				vote[b] += v
			}
		}
		turned := false
		for i, g := range group {
			if vote[g] < 0 {
				sign[i] = -sign[i]
				turned = true
			}
		}
		if !turned {
			return
		}
	}
}
