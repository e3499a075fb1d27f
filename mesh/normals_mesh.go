package mesh

import (
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// EstimateNormals returns a copy of s, which is not changed, that has normals.
// The copy shares the rest of its memory with s; its Unoriented says whether
// the normals' side is known.
//
// On a mesh they are the sum of the normals of the triangles around a vertex,
// each weighted by its angle there (Thürmer & Wüthrich 1998, J. Graphics Tools
// 3(1)), which does not depend on how a surface is cut into triangles; the
// winding, which Build makes agree, says which side is out.
//
// On a cloud that has no normals they are those of the plane that most of the
// nearest neighbours agree on; see cloudNormals for the method and orient for
// the side. Normals that a cloud has are kept, unless those of neighbours point
// either way, as many programs compute them: their sides are found as above.
//
// tree is a tree of s.Offsets; nil builds one where it is needed. jobs is the
// number of goroutines, zero for GOMAXPROCS; it does not change the result.
// The only error is the context's.
func EstimateNormals(ctx context.Context, s *Scan, tree *KDTree, jobs int) (*Scan, error) {
	out := *s
	given := len(s.Normals) == s.Len() && s.Normals != nil
	switch {
	case s.IsMesh():
		out.Normals = meshNormals(ctx, s, jobs)
	case !given || s.Unoriented || !sidesAgree(s):
		if tree == nil {
			tree = NewKDTree(s.Offsets, jobs)
		}
		tex, _ := EstimateSampling(ctx, s, tree, 0, jobs) // its error is the context's
		band := bandSigmas*tex.LocalNoise + bandSpacing*tex.Spacing
		n, areas := cloudNormals(ctx, s, tree, tex.LocalNoise, band, jobs)
		if given {
			n = slices.Clone(s.Normals)
		}
		out.Normals, out.Unoriented = n, !orient(ctx, s.Offsets, n, areas, band, tree, jobs)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return &out, nil
}

// meshNormals sums the triangles' normals by corner angle. Every goroutine
// walks all triangles and adds to the vertices of its own part only, so each
// vertex sums its triangles in their order on any number of cores.
func meshNormals(ctx context.Context, s *Scan, jobs int) []Vec32 {
	n := len(s.Offsets)
	normals := make([]Vec32, n)
	parts := min(parallel.Jobs(jobs), mostParts)
	_ = parallel.Chunks(ctx, jobs, n, max(1, (n+parts-1)/parts), func(lo, hi int) {
		first, own := int32(lo), uint32(hi-lo)
		for i, t := range s.Triangles {
			if i%itemChunk == 0 && ctx.Err() != nil {
				return
			}
			if uint32(t[0]-first) >= own && uint32(t[1]-first) >= own && uint32(t[2]-first) >= own {
				continue
			}
			a, b, c := s.Offsets[t[0]].R3(), s.Offsets[t[1]].R3(), s.Offsets[t[2]].R3()
			edges := [3]r3.Vector{b.Sub(a), c.Sub(b), a.Sub(c)}
			normal := geom.Unit(edges[0].Cross(edges[1]))
			for k, v := range t {
				if uint32(v-first) < own {
					u, w := edges[k], edges[(k+2)%3]
					m := normal.Mul(angle(-u.Dot(w), u.Norm2()*w.Norm2()))
					sum := &normals[v]
					sum[0] += float32(m.X)
					sum[1] += float32(m.Y)
					sum[2] += float32(m.Z)
				}
			}
		}
		for i := lo; i < hi; i++ {
			normals[i] = vec32(geom.Unit(normals[i].R3()))
		}
	})
	return normals
}

// angle returns arccos(dot/sqrt(squares)) within 7e-5 rad: Abramowitz & Stegun
// (1964), 4.4.45.
func angle(dot, squares float64) float64 {
	if !(squares > 0) {
		return 0
	}
	c := dot / math.Sqrt(squares)
	x := min(1, math.Abs(c))
	a := math.Sqrt(1-x) * (1.5707288 + x*(-0.2121144+x*(0.0742610-x*0.0187293)))
	if c < 0 {
		return math.Pi - a
	}
	return a
}
