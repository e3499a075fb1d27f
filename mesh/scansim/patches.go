package scansim

import (
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// shrink drops the triangles with a corner that is not kept, then the vertices
// without a triangle. labels, of the vertices, follows if not nil; it returns
// what is left of it.
func (s *surface) shrink(keep []bool, labels []uint16) []uint16 {
	n := 0
	used := make([]int32, len(s.verts))
	for _, t := range s.tris {
		if keep[t[0]] && keep[t[1]] && keep[t[2]] {
			s.tris[n] = t
			n++
			used[t[0]], used[t[1]], used[t[2]] = 1, 1, 1
		}
	}
	s.tris = s.tris[:n]
	next := int32(0)
	for i, u := range used {
		if u == 0 {
			continue
		}
		used[i] = next
		s.verts[next], s.norms[next] = s.verts[i], s.norms[i]
		if labels != nil {
			labels[next] = labels[i]
		}
		next++
	}
	s.verts, s.norms = s.verts[:next], s.norms[:next]
	for i, t := range s.tris {
		s.tris[i] = [3]int32{used[t[0]], used[t[1]], used[t[2]]}
	}
	if labels != nil {
		labels = labels[:next]
	}
	return labels
}

// patches takes random patches out of the surface until the share asked is
// gone, to the last patch. Their radii are spread over all sizes from 2 voxels
// to an eighth of the part; noise makes their outlines uneven.
func (f *fuse) patches(s *surface, labels []uint16) []uint16 {
	if f.opt.Missing == 0 {
		return labels
	}
	rng := rand.New(rand.NewPCG(f.opt.Seed, streamPatch))
	rough := newLattice(rng.Uint64(), 6*f.grid.h)
	size := f.part.Hi.Sub(f.part.Lo)
	small := 2 * f.grid.h
	ratio := max(size.X, size.Y, size.Z) / 8 / small
	keep := make([]bool, len(s.verts))
	for i := range keep {
		keep[i] = true
	}
	// Sorted by x, the vertices that a patch can reach stand together.
	order := make([]int32, len(s.verts))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int {
		if xa, xb := s.verts[a].X, s.verts[b].X; xa != xb {
			if xa < xb {
				return -1
			}
			return 1
		}
		return int(a - b)
	})
	left := len(s.verts)
	want := int(math.Round(float64(left) * (1 - f.opt.Missing)))
	for left > want {
		c := s.verts[rng.IntN(len(s.verts))]
		r := small * math.Pow(max(ratio, 1), rng.Float64())
		reach := 2 * r
		first, _ := slices.BinarySearchFunc(order, c.X-reach, func(i int32, x float64) int {
			if s.verts[i].X < x {
				return -1
			}
			return 1
		})
		for _, i := range order[first:] {
			v := s.verts[i]
			if v.X > c.X+reach || left <= want {
				break
			}
			d2 := v.Sub(c).Norm2()
			if !keep[i] || d2 > reach*reach {
				continue
			}
			if d2 < r*r*math.Pow(min(2, max(0.3, 1+0.35*rough.at(v))), 2) {
				keep[i] = false
				left--
			}
		}
	}
	return s.shrink(keep, labels)
}

// newScan returns a scan of n points, given in the part's frame, where the pose
// puts them.
func newScan(n int, g Pose, point func(i int) r3.Vector) *mesh.Scan {
	s := &mesh.Scan{Offsets: make([]mesh.Vec32, n)}
	s.Origin = g.T
	for i := range n {
		p := g.Turn(point(i))
		s.Offsets[i] = mesh.Vec32{float32(p.X), float32(p.Y), float32(p.Z)}
	}
	s.Source = mesh.Source{Format: "simulated", Unit: mesh.Millimetre, UnitSource: mesh.UnitGiven, Points: n}
	return s
}
