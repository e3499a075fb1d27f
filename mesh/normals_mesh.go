package mesh

import (
	"context"
	"math"
	"slices"

	"spotface/mesh/parallel"
)

// EstimateNormals returns a copy of s, which is not changed, that has normals.
// The copy shares the rest of its memory with s; its Unoriented says whether
// the normals' side is known.
//
// On a mesh they are the sum of the normals of the triangles around a vertex,
// each weighted by its angle there (Thürmer & Wüthrich 1998, J. Graphics Tools
// 3(1)), which does not depend on how a surface is cut into triangles; the
// winding says which side is out. Triangles that face at random, as some
// programs write them, say nothing: such a mesh is taken for a cloud of its
// vertices.
//
// On a cloud that has no normals they are those of the plane that most of the
// nearest neighbours agree on; see cloudNormals for the method and orient for
// the side. Normals that a cloud has are kept, unless those of neighbours point
// either way, as many programs compute them: their sides are told as above.
//
// tree is a tree of s.Offsets; nil builds one where it is needed. jobs is the
// number of goroutines, zero for GOMAXPROCS; it does not change the result.
// The only error is the context's.
func EstimateNormals(ctx context.Context, s *Scan, tree *KDTree, jobs int) (*Scan, error) {
	out := *s
	if s.IsMesh() {
		n, err := meshNormals(ctx, s, jobs)
		if err != nil {
			return nil, err
		}
		if windingAgrees(s, n) {
			out.Normals = n
			return &out, nil
		}
	}
	given := !s.IsMesh() && len(s.Normals) == s.Len() && s.Normals != nil
	if given && !s.Unoriented && sidesAgree(s) {
		return &out, nil
	}
	if tree == nil {
		tree = NewKDTree(s.Offsets, jobs)
	}
	tex, err := EstimateSampling(ctx, s, tree, 0, jobs)
	if err != nil {
		return nil, err
	}
	band := 3*tex.LocalNoise + 1e-6*tex.Spacing
	n, areas, err := cloudNormals(ctx, s, tree, tex.LocalNoise, band, jobs)
	if err != nil {
		return nil, err
	}
	if given {
		n = slices.Clone(s.Normals)
	}
	oriented, err := orient(ctx, s.Offsets, n, areas, band, tree, jobs)
	if err != nil {
		return nil, err
	}
	out.Normals, out.Unoriented = n, !oriented
	return &out, nil
}

// windingAgrees reports whether nearly all triangles, judged by a sample, face
// the way of their vertices' normals. A few turned ones do no harm; of
// triangles that face at random about a third is against the sum.
func windingAgrees(s *Scan, normals []Vec32) bool {
	seen, against := 0, 0
	for i := 0; i < len(s.Triangles); i += 1 + len(s.Triangles)/windingSample {
		n := s.areaVector(i)
		for _, v := range s.Triangles[i] {
			seen++
			if n.Dot(normals[v].R3()) < 0 {
				against++
			}
		}
	}
	return float64(against) <= windingsAgainst*float64(seen)
}

// meshNormals sums the triangles' normals by corner angle. Every goroutine
// walks all triangles and adds to the vertices of its own part only, so each
// vertex sums its triangles in their order on any number of cores (meshParts).
func meshNormals(ctx context.Context, s *Scan, jobs int) ([]Vec32, error) {
	n := len(s.Offsets)
	normals := make([]Vec32, n)
	part := max(1, (n+meshParts(jobs)-1)/meshParts(jobs))
	err := parallel.Chunks(ctx, jobs, n, part, func(lo, hi int) {
		for t0 := 0; t0 < len(s.Triangles); t0 += chunkSize {
			if ctx.Err() != nil {
				return
			}
			some := s.Triangles[t0:min(len(s.Triangles), t0+chunkSize)]
			addTriangles(normals, s.Offsets, some, int32(lo), int32(hi))
		}
		for i, v := range normals[lo:hi] {
			normals[lo+i] = unit(v)
		}
	})
	return normals, err
}

func addTriangles(normals, pts []Vec32, triangles [][3]int32, lo, hi int32) {
	own := uint32(hi - lo)
	for _, t := range triangles {
		in0, in1, in2 := uint32(t[0]-lo) < own, uint32(t[1]-lo) < own, uint32(t[2]-lo) < own
		if !in0 && !in1 && !in2 {
			continue
		}
		a, b, c := pts[t[0]], pts[t[1]], pts[t[2]]
		ux, uy, uz := b[0]-a[0], b[1]-a[1], b[2]-a[2] // a to b
		vx, vy, vz := c[0]-a[0], c[1]-a[1], c[2]-a[2] // a to c
		wx, wy, wz := vx-ux, vy-uy, vz-uz             // b to c
		nx, ny, nz := uy*vz-uz*vy, uz*vx-ux*vz, ux*vy-uy*vx
		area2 := nx*nx + ny*ny + nz*nz
		if !(area2 > 0) {
			continue
		}
		// Angles by cosine; the third is what is left of half a turn.
		uu, vv, ww := ux*ux+uy*uy+uz*uz, vx*vx+vy*vy+vz*vz, wx*wx+wy*wy+wz*wz
		uv, uw := ux*vx+uy*vy+uz*vz, -(ux*wx + uy*wy + uz*wz)
		alpha := angle(uv, uu*vv)
		beta := angle(uw, uu*ww)
		gamma := max(0, math.Pi-alpha-beta)
		l := 1 / float32(math.Sqrt(float64(area2)))
		nx, ny, nz = nx*l, ny*l, nz*l
		if in0 {
			p := &normals[t[0]]
			p[0] += alpha * nx
			p[1] += alpha * ny
			p[2] += alpha * nz
		}
		if in1 {
			p := &normals[t[1]]
			p[0] += beta * nx
			p[1] += beta * ny
			p[2] += beta * nz
		}
		if in2 {
			p := &normals[t[2]]
			p[0] += gamma * nx
			p[1] += gamma * ny
			p[2] += gamma * nz
		}
	}
}

// angle returns arccos(dot/sqrt(squares)) within 7e-5 rad: Abramowitz & Stegun
// (1964), 4.4.45.
func angle(dot, squares float32) float32 {
	c := dot / float32(math.Sqrt(float64(squares)))
	x := min(1, max(c, -c))
	a := float32(math.Sqrt(float64(1-x))) * (1.5707288 + x*(-0.2121144+x*(0.0742610-x*0.0187293)))
	if c < 0 {
		return math.Pi - a
	}
	return a
}

// unit returns v at length 1, or zero for zero.
func unit(v Vec32) Vec32 {
	w := v.R3()
	l := w.Norm2()
	if !(l > 0) {
		return Vec32{}
	}
	return vec32(w.Mul(1 / math.Sqrt(l)))
}
