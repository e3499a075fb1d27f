package segment

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// loose are the pieces of a mesh.
type loose struct {
	s     *mesh.Scan
	label []int32 // of each point
	small []bool
	open  []bool // of the small ones, whether they have an open edge
}

// looseOf returns the pieces of a mesh, or nil where none is small.
func looseOf(s *mesh.Scan) *loose {
	if !s.IsMesh() {
		return nil
	}
	label, sizes := mesh.ConnectedComponents(s)
	small := make([]bool, len(sizes))
	any := false
	for l := 1; l < len(sizes); l++ {
		small[l] = float64(sizes[l]) < junkShare*float64(len(s.Triangles))
		any = any || small[l]
	}
	if !any {
		return nil
	}
	edges := map[[2]int32]int{} // of small pieces, both ways as one: triangles on it
	for _, c := range s.Triangles {
		if small[label[c[0]]] {
			for k := range 3 {
				a, b := c[k], c[(k+1)%3]
				edges[[2]int32{min(a, b), max(a, b)}]++
			}
		}
	}
	open := make([]bool, len(sizes))
	for e, n := range edges {
		if n == 1 {
			open[label[e[0]]] = true
		}
	}
	return &loose{s, label, small, open}
}

// junk marks the points that lie on small closed pieces afloat: dust and
// reflections that the scanner closed into a blob. Small pieces with an open edge
// may be a face whose walls were not seen; they stay, unless they are blobs. It
// returns nil where there are none.
func (p *loose) junk(spacing float64) []bool {
	if p == nil {
		return nil
	}
	small := slices.Clone(p.small)
	for l, blob := range blobs(p.s, p.label, p.open, spacing) {
		small[l] = small[l] && (!p.open[l] || blob)
	}
	out := make([]bool, len(p.label))
	for i, l := range p.label {
		out[i] = small[l]
	}
	return out
}

// blobs says of pieces of a mesh whether they bulge: most of their normals point
// away from their middle, in all directions of space. What a scanner saw of a
// speck from above does, and is open below; a face, and a hole's wall, do not.
// Only pieces of less than some fifteen spacings across count.
func blobs(s *mesh.Scan, label []int32, open []bool, spacing float64) []bool {
	type piece struct {
		n, out  int
		mid     r3.Vector
		lo, hi  r3.Vector
		scatter [6]float64
	}
	pieces := make([]piece, len(open))
	for i, l := range label {
		if !open[l] {
			continue
		}
		p, q := &pieces[l], s.Offsets[i].R3()
		if p.n == 0 {
			p.lo, p.hi = q, q
		}
		p.n++
		p.mid = p.mid.Add(q)
		p.lo = r3.Vector{X: min(p.lo.X, q.X), Y: min(p.lo.Y, q.Y), Z: min(p.lo.Z, q.Z)}
		p.hi = r3.Vector{X: max(p.hi.X, q.X), Y: max(p.hi.Y, q.Y), Z: max(p.hi.Z, q.Z)}
		addOuter(&p.scatter, s.Normals[i].R3())
	}
	for i, l := range label {
		if open[l] {
			p := &pieces[l]
			if s.Normals[i].R3().Dot(s.Offsets[i].R3().Sub(p.mid.Mul(1/float64(p.n)))) > 0 {
				p.out++
			}
		}
	}
	out := make([]bool, len(open))
	for l := range pieces {
		p := &pieces[l]
		if p.n == 0 || p.hi.Sub(p.lo).Norm() > 15*math.Sqrt(3)*spacing || 10*p.out < 9*p.n {
			continue
		}
		for k := range p.scatter {
			p.scatter[k] /= float64(p.n)
		}
		// Normals over a half or the whole of a ball have the variance 1/3 in all
		// directions, those of a wall none along its axis.
		if v, ok := eigen3(p.scatter); ok {
			a := outer(v[0])
			m := p.scatter // the least variance, v·Sv
			out[l] = m[0]*a[0]+m[3]*a[3]+m[5]*a[5]+2*(m[1]*a[1]+m[2]*a[2]+m[4]*a[4]) > 0.12
		}
	}
	return out
}
