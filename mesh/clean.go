package mesh

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// Why a triangle is dropped: stands in its first corner until the triangles
// are packed.
const (
	brokenTriangle    = -1
	zeroAreaTriangle  = -2
	duplicateTriangle = -3
)

const cleanChunk = 1 << 15 // triangles or points worked on at a time

// zeroArea reports whether three points lie on one line, or two in one place.
func zeroArea(a, b, c [3]float64) bool {
	return cross(sub(b, a), sub(c, a)) == [3]float64{}
}

// sub returns a - b.
func sub(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// nearlyFlat reports whether the third corner of a triangle stands off its
// longest side by no more than the given part of its largest coordinate,
// although all its sides are much longer than that. (A triangle with a very
// short side is narrow, and holds its neighbours together, but is not flat.)
func nearlyFlat(a, b, c [3]float64, part float64) bool {
	u, v, w := sub(b, a), sub(c, a), sub(c, b)
	unit := 0.0
	for k := range 3 {
		unit = max(unit, math.Abs(a[k]), math.Abs(b[k]), math.Abs(c[k]))
	}
	unit *= part
	// |u x v| = longest side x height over it.
	n := cross(u, v)
	uu, vv, ww := dot(u, u), dot(v, v), dot(w, w)
	return dot(n, n) <= unit*unit*max(uu, vv, ww) && min(uu, vv, ww) >= 64*64*unit*unit
}

// How far, relative to the largest coordinate, the corners of a flat triangle
// can stand off a line when they are rounded: to single precision, as offsets
// are, or to double.
const (
	offsetRounding = 1.0 / (1 << 23)
	doubleRounding = 1.0 / (1 << 51)
)

// cleanMesh drops broken, flat and repeated triangles, and points that no
// triangle uses, and makes the others' windings agree.
func (s *Scan) cleanMesh(ctx context.Context, jobs int) error {
	if err := s.dropRepeated(ctx, jobs); err != nil {
		return err
	}
	s.packTriangles()
	s.packVertices()
	return s.orientMesh(ctx, jobs)
}

// markFlat marks triangles with a missing corner or of zero area. Whether
// corners that lie on a line but for rounding do so in the file, exact tells,
// if it is not nil, by the file's own coordinates of triangle i, with corners t.
func (s *Scan) markFlat(ctx context.Context, exact func(i int, t [3]int32) ([3][3]float64, error), jobs int) error {
	far := 0.0
	for _, o := range s.Offsets {
		if o.broken() {
			continue
		}
		far = max(far, math.Abs(float64(o[0])), math.Abs(float64(o[1])), math.Abs(float64(o[2])))
	}
	low := far * offsetRounding * far * offsetRounding
	return inChunks(ctx, (len(s.Triangles)+cleanChunk-1)/cleanChunk, jobs, func(_, c int) error {
		for i := c * cleanChunk; i < min(len(s.Triangles), (c+1)*cleanChunk); i++ {
			t := &s.Triangles[i]
			if t[0] < 0 || t[1] < 0 || t[2] < 0 {
				t[0] = brokenTriangle
				continue
			}
			if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
				t[0] = zeroAreaTriangle
				continue
			}
			// Nearly all triangles stand higher than any rounding. (Vectors here
			// as structs, which stay in registers; arrays do not.)
			a, b, c := s.Offsets[t[0]].R3(), s.Offsets[t[1]].R3(), s.Offsets[t[2]].R3()
			u, v := b.Sub(a), c.Sub(a)
			if n := u.Cross(v); n.Dot(n) > 2*low*(u.Dot(u)+v.Dot(v)) {
				continue // |w|^2 of the third side is at most 2(|u|^2 + |v|^2)
			}
			p := [3][3]float64{wide(s.Offsets[t[0]]), wide(s.Offsets[t[1]]), wide(s.Offsets[t[2]])}
			flat := zeroArea(p[0], p[1], p[2])
			if !flat && nearlyFlat(p[0], p[1], p[2], offsetRounding) {
				if exact != nil {
					var err error
					if p, err = exact(i, *t); err != nil {
						return err
					}
				}
				flat = exact == nil || zeroArea(p[0], p[1], p[2]) || nearlyFlat(p[0], p[1], p[2], doubleRounding)
			}
			if flat {
				t[0] = zeroAreaTriangle
			}
		}
		return nil
	})
}

// dropRepeated marks triangles whose three corners an earlier triangle has,
// in any order. Triangles are listed by their lowest corner, and each list,
// a handful on a surface, is searched.
func (s *Scan) dropRepeated(ctx context.Context, jobs int) error {
	n := len(s.Offsets)
	start := make([]int32, n+1)
	for i := range s.Triangles {
		if t := &s.Triangles[i]; t[0] >= 0 {
			start[min(t[0], t[1], t[2])]++
		}
	}
	var sum int32
	for v := range start {
		sum += start[v]
		start[v] = sum // end of the list; counted down below
	}
	list := make([]int32, sum)
	for i := len(s.Triangles) - 1; i >= 0; i-- {
		if t := &s.Triangles[i]; t[0] >= 0 {
			v := min(t[0], t[1], t[2])
			start[v]--
			list[start[v]] = int32(i)
		}
	}
	return eachChunk(ctx, jobs, n, cleanChunk, func(lo, hi int) {
		for v := lo; v < hi; v++ {
			if l := list[start[v]:start[v+1]]; len(l) > 1 {
				s.markRepeated(l)
			}
		}
	})
}

// upper returns the two higher corners of a triangle as one number.
func upper(t [3]int32) uint64 {
	hi := max(t[0], t[1], t[2])
	mid := max(min(t[0], t[1]), min(max(t[0], t[1]), t[2]))
	return uint64(mid)<<32 | uint64(hi)
}

// markRepeated marks the repeated ones among triangles of one lowest corner.
func (s *Scan) markRepeated(list []int32) {
	const few = 24
	if len(list) <= few {
		var keys [few]uint64
		for k, i := range list {
			keys[k] = upper(s.Triangles[i])
			if slices.Contains(keys[:k], keys[k]) {
				s.Triangles[i][0] = duplicateTriangle
			}
		}
		return
	}
	// All triangles at one point, as the tip of a fan has them: sort them.
	slices.SortFunc(list, func(a, b int32) int {
		return cmp.Or(cmp.Compare(upper(s.Triangles[a]), upper(s.Triangles[b])), cmp.Compare(a, b))
	})
	last := uint64(math.MaxUint64)
	for _, i := range list {
		key := upper(s.Triangles[i])
		if key == last {
			s.Triangles[i][0] = duplicateTriangle
		}
		last = key
	}
}

// packTriangles closes the gaps that dropped triangles leave, and counts them.
func (s *Scan) packTriangles() {
	kept := 0
	for i, t := range s.Triangles {
		switch t[0] {
		case brokenTriangle:
			s.Removed.Broken++
		case zeroAreaTriangle:
			s.Removed.ZeroArea++
		case duplicateTriangle:
			s.Removed.Duplicate++
		default:
			if s.FileItem != nil {
				s.FileItem[kept] = s.FileItem[i]
				s.Triangles[kept] = t
			}
			kept++
			continue
		}
		s.mapItems(len(s.Triangles))
	}
	s.Triangles = s.Triangles[:kept]
	if s.FileItem != nil {
		s.FileItem = s.FileItem[:kept]
	}
}

// mapItems makes FileItem for n items, unless it is there.
func (s *Scan) mapItems(n int) {
	if s.FileItem != nil {
		return
	}
	s.FileItem = make([]int32, n)
	for i := range s.FileItem {
		s.FileItem[i] = int32(i)
	}
}

// packVertices leaves out points that no triangle uses and renumbers the
// others in their order.
func (s *Scan) packVertices() {
	number := make([]int32, len(s.Offsets))
	for _, t := range s.Triangles {
		number[t[0]], number[t[1]], number[t[2]] = 1, 1, 1
	}
	kept := int32(0)
	for v, used := range number {
		if used == 0 {
			continue
		}
		number[v] = kept
		if int(kept) < v {
			s.Offsets[kept] = s.Offsets[v]
			if s.Normals != nil {
				s.Normals[kept] = s.Normals[v]
			}
		}
		kept++
	}
	if int(kept) == len(s.Offsets) {
		return
	}
	s.Offsets = s.Offsets[:kept]
	if s.Normals != nil {
		s.Normals = s.Normals[:kept]
	}
	for i := range s.Triangles {
		t := &s.Triangles[i]
		t[0], t[1], t[2] = number[t[0]], number[t[1]], number[t[2]]
	}
}

// packCloud keeps the first of equal points and drops broken ones.
func (s *Scan) packCloud(first []int32) {
	kept := 0
	for i, f := range first {
		switch {
		case f < 0:
			s.Removed.Broken++
		case int(f) < i:
			s.Removed.Duplicate++
		default:
			if s.FileItem != nil {
				s.FileItem[kept] = int32(i)
				s.Offsets[kept] = s.Offsets[i]
				if s.Normals != nil {
					s.Normals[kept] = s.Normals[i]
				}
			}
			kept++
			continue
		}
		s.mapItems(len(first))
	}
	s.Offsets = s.Offsets[:kept]
	if s.Normals != nil {
		s.Normals = s.Normals[:kept]
	}
	if s.FileItem != nil {
		s.FileItem = s.FileItem[:kept]
	}
}
