package mesh

import (
	"context"
	"math"
)

// facet is a small piece of surface: neighbouring points that face about the
// same way, as one place, normal and area. Sides are settled among facets, of
// which there are far fewer than points, and whose normals are steadier.
type facet struct {
	at, normal [3]float64
	area       float64 // mm², of which each point stands for a share
	size       float64 // root of the area, mm
	points     int32
}

const (
	facetPoints = 16     // in a block of the tree that is divided into facets
	mostFacets  = 60_000 // blocks; larger scans have larger blocks
	facetCone   = 0.94   // cosine of the largest angle from a facet's normal, 20 degrees
	facetBend   = 0.3    // of a point's distance from its facet's middle, the most across it
	facetLeast  = 3      // points that make a facet
)

// facetsOf divides the points into facets, block by block of the tree's order,
// and returns them with each point's facet, -1 for none.
// areas holds the surface that each point stands for, mm²; noise is a height,
// mm, below which a step means nothing.
func facetsOf(ctx context.Context, pts, normals []Vec32, areas []float32, noise float64, ix *KDTree, jobs int) ([]facet, []int32, error) {
	n := len(pts)
	block := max(facetPoints, (n+mostFacets-1)/mostFacets)
	blocks := (n + block - 1) / block
	const chunk = 64 // blocks
	of := make([]int32, n)
	parts := make([][]facet, (blocks+chunk-1)/chunk)
	err := eachChunk(ctx, jobs, blocks, chunk, func(lo, hi int) {
		var out []facet
		for b := lo; b < hi; b++ {
			out = blockFacets(pts, normals, areas, noise, ix.slots[b*block:min(n, (b+1)*block)], of, out)
		}
		parts[lo/chunk] = out
	})
	if err != nil {
		return nil, nil, err
	}
	// Number them through, leaving out those of too few points.
	var all []facet
	first := make([][]int32, len(parts))
	for c, part := range parts {
		first[c] = make([]int32, len(part))
		for k, f := range part {
			first[c][k] = -1
			if f.points >= facetLeast {
				first[c][k] = int32(len(all))
				all = append(all, f)
			}
		}
	}
	for k := range n {
		i := ix.slots[k].i
		if of[i] >= 0 {
			of[i] = first[k/(block*chunk)][of[i]]
		}
	}
	return all, of, nil
}

// blockFacets appends the facets of one block to out and writes their numbers
// in out to of.
func blockFacets(pts, normals []Vec32, areas []float32, noise float64, block []slot, of []int32, out []facet) []facet {
	base := len(out)
	var sums [8]struct{ at, normal [3]float64 }
	for _, s := range block {
		p, n := wide(pts[s.i]), wide(normals[s.i])
		of[s.i] = -1
		if dot(n, n) == 0 {
			continue
		}
		// The facet that it agrees with best.
		best, bestCos := -1, facetCone
		for k := range out[base:] {
			m, so := sums[k].normal, 1/float64(out[base+k].points)
			l := 1 / math.Sqrt(dot(m, m))
			c := math.Abs(dot(m, n)) * l
			if c <= bestCos {
				continue
			}
			// Not the other side of a thin sheet.
			e := [3]float64{p[0] - so*sums[k].at[0], p[1] - so*sums[k].at[1], p[2] - so*sums[k].at[2]}
			if h := math.Abs(dot(m, e)) * l; h > 2*noise && h > facetBend*math.Sqrt(dot(e, e)) {
				continue
			}
			best, bestCos = k, c
		}
		if best < 0 {
			if len(out)-base == len(sums) {
				continue
			}
			best = len(out) - base
			out = append(out, facet{})
		}
		g := &sums[best]
		sign := 1.0
		if dot(g.normal, n) < 0 {
			sign = -1
		}
		for c := range 3 {
			g.normal[c] += sign * n[c]
			g.at[c] += p[c]
		}
		out[base+best].points++
		out[base+best].area += float64(areas[s.i])
		of[s.i] = int32(base + best)
	}
	for k := range out[base:] {
		f, g := &out[base+k], &sums[k]
		l := 1 / math.Sqrt(dot(g.normal, g.normal))
		n := float64(f.points)
		for c := range 3 {
			f.normal[c] = g.normal[c] * l
			f.at[c] = g.at[c] / n
		}
		f.size = math.Sqrt(f.area)
	}
	return out
}
