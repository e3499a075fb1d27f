package mesh

import (
	"context"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/parallel"
)

// Why a triangle is dropped: the value of its first corner until the triangles
// are packed.
const (
	brokenTriangle    = -1
	zeroAreaTriangle  = -2
	duplicateTriangle = -3
)

// markFlat marks triangles with a missing corner or of zero area, by the
// coordinates as they were given.
func markFlat(ctx context.Context, tris [][3]int32, at func(i int) r3.Vector, jobs int) error {
	return parallel.Chunks(ctx, jobs, len(tris), itemChunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			t := &tris[i]
			switch {
			case t[0] < 0 || t[1] < 0 || t[2] < 0:
				t[0] = brokenTriangle
			case t[0] == t[1] || t[1] == t[2] || t[2] == t[0] ||
				zeroArea(at(int(t[0])), at(int(t[1])), at(int(t[2]))):
				t[0] = zeroAreaTriangle
			}
		}
	})
}

// zeroArea reports whether three points lie on one line, but for the rounding
// of their coordinates to double precision.
func zeroArea(a, b, c r3.Vector) bool {
	u, v := b.Sub(a), c.Sub(a)
	unit := 0.0
	for _, p := range [3]r3.Vector{a, b, c} {
		unit = max(unit, math.Abs(p.X), math.Abs(p.Y), math.Abs(p.Z))
	}
	unit *= coordinateRounding
	// |u x v| = longest side x height over it
	return u.Cross(v).Norm2() <= unit*unit*max(u.Norm2(), v.Norm2(), c.Sub(b).Norm2())
}

// markRepeated marks triangles whose three corners an earlier triangle has in any order:
// they are equal points of the ordered corners.
func markRepeated(ctx context.Context, tris [][3]int32, jobs int) error {
	first, err := firstEqual(ctx, len(tris), func(i int) r3.Vector {
		a, b, c := float64(tris[i][0]), float64(tris[i][1]), float64(tris[i][2])
		lo, hi := min(a, b, c), max(a, b, c)
		if lo < 0 {
			lo = math.NaN()
		}
		return r3.Vector{X: lo, Y: a + b + c - lo - hi, Z: hi}
	}, jobs)
	for i, f := range first {
		if f >= 0 && int(f) != i {
			tris[i][0] = duplicateTriangle
		}
	}
	return err
}

// packTriangles closes the gaps that dropped triangles leave, counts them and
// lists what is kept.
func (s *Scan) packTriangles() {
	var count [4]int // by the mark, less its sign
	for _, t := range s.Triangles {
		count[-min(t[0], 0)]++
	}
	s.Removed = Removed{Broken: count[-brokenTriangle], ZeroArea: count[-zeroAreaTriangle],
		Duplicate: count[-duplicateTriangle]}
	n := count[1] + count[2] + count[3]
	if n == 0 {
		return
	}
	s.SourceIndex = make([]int32, 0, len(s.Triangles)-n)
	for i, t := range s.Triangles {
		if t[0] >= 0 {
			s.Triangles[len(s.SourceIndex)] = t
			s.SourceIndex = append(s.SourceIndex, int32(i))
		}
	}
	s.Triangles = s.Triangles[:len(s.SourceIndex)]
}

// keepFirst returns the numbers of points that are the first of equal ones,
// nil where all are, and counts the others.
func (s *Scan) keepFirst(first []int32) (kept []int32) {
	for i, f := range first {
		switch {
		case f < 0:
			s.Removed.Broken++
		case int(f) < i:
			s.Removed.Duplicate++
		}
	}
	if n := s.Removed.Broken + s.Removed.Duplicate; n > 0 {
		kept = make([]int32, 0, len(first)-n)
		for i, f := range first {
			if int(f) == i {
				kept = append(kept, f)
			}
		}
	}
	return kept
}
