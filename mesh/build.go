package mesh

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/parallel"
)

// Items is what a scan is built from: points, and perhaps triangles, as a file
// or a caller has them.
type Items struct {
	Points int
	// At returns point i, mm, in double precision. It is called from several
	// goroutines. A coordinate that is no finite number makes a broken point.
	At func(i int) r3.Vector
	// Normals holds a normal a point of a cloud, of any length, or is nil. Build keeps and
	// changes it. Those of a mesh are not used: they follow from its triangles.
	Normals []Vec32
	// Triangles holds corners as point numbers, or is empty for a cloud; a
	// number that no point has makes a broken triangle. Build keeps and
	// changes it.
	Triangles [][3]int32
}

// Build makes a scan. It welds points of exactly equal coordinates; drops
// broken points and triangles, triangles of zero area, repeated ones, repeated
// points of a cloud and points that no triangle uses, with counts in Removed;
// makes the windings of triangles agree; chooses the origin, and rounds
// coordinates to single precision once.
// jobs is the number of goroutines; zero means GOMAXPROCS.
func Build(ctx context.Context, it Items, jobs int) (*Scan, error) {
	if it.Points > math.MaxInt32-1 || len(it.Triangles) > math.MaxInt32-1 {
		return nil, fmt.Errorf("%d points and %d triangles are more than a scan can number: "+
			"thin the scan out", it.Points, len(it.Triangles))
	}
	first, err := firstEqual(ctx, it.Points, it.At, jobs)
	if err != nil {
		return nil, err
	}
	s := &Scan{}
	var kept []int32 // the points kept; nil for all
	if len(it.Triangles) == 0 {
		kept = s.keepFirst(first)
		s.SourceIndex, s.Normals = kept, it.Normals
	} else {
		s.Triangles = it.Triangles
		s.joinCorners(first)
		if err := markFlat(ctx, s.Triangles, it.At, jobs); err != nil {
			return nil, err
		}
		kept = s.renumber(first)
		if err := markRepeated(ctx, s.Triangles, jobs); err != nil {
			return nil, err
		}
		s.packTriangles()
	}
	first = nil
	if err := s.round(ctx, it, kept, jobs); err != nil {
		return nil, err
	}
	if s.IsMesh() {
		if err := s.orientMesh(ctx, jobs); err != nil {
			return nil, err
		}
	}
	s.unitNormals()
	return s, nil
}

// New makes a scan of points, mm, and what of the rest is known: for a cloud a normal a
// point out of the material, of any length, zero where it is not known; for a mesh
// triangles by their corners' numbers, counter-clockwise seen from outside.
func New(ctx context.Context, pts, normals []r3.Vector, triangles [][3]int32) (*Scan, error) {
	if normals != nil && len(pts) != len(normals) {
		return nil, fmt.Errorf("%d points and %d normals: give a normal for each point",
			len(pts), len(normals))
	}
	it := Items{Points: len(pts), At: func(i int) r3.Vector { return pts[i] },
		Triangles: slices.Clone(triangles)}
	for _, v := range normals {
		it.Normals = append(it.Normals, vec32(v))
	}
	s, err := Build(ctx, it, 0)
	switch {
	case err != nil:
		return nil, err
	case s.Len() == 0 && len(triangles) > 0:
		return nil, fmt.Errorf("no triangle of %d has finite corners and an area", len(triangles))
	case s.Len() == 0:
		return nil, fmt.Errorf("no point of %d has finite coordinates", len(pts))
	}
	s.Source = Source{Unit: Millimetre, UnitSource: UnitGiven,
		Points: len(pts), Triangles: len(triangles)}
	return s, nil
}

// joinCorners replaces corners by the first of equal points, or -1 where
// there is no such point, and warns of points that no corner uses.
func (s *Scan) joinCorners(first []int32) {
	used := make([]bool, len(first))
	for i := range s.Triangles {
		t := &s.Triangles[i]
		for k, v := range t {
			if v >= 0 && int(v) < len(first) {
				t[k] = first[v]
				used[v] = true
			} else {
				t[k] = -1
			}
		}
	}
	unused := 0
	for _, u := range used {
		if !u {
			unused++
		}
	}
	if unused > 0 {
		s.Warnings = append(s.Warnings, LeftOut(unused, "point", " that no triangle uses", "left out"))
	}
}

// LeftOut says that n things were left out: "2 points that no triangle uses were left out."
func LeftOut(n int, noun, with, done string) string {
	were := "were"
	if n == 1 {
		were = "was"
	}
	return fmt.Sprintf("%s%s %s %s.", Quantity(n, noun), with, were, done)
}

// Quantity returns a count with its noun: "1 byte", "12,345 bytes".
func Quantity[T int | int64](n T, noun string) string {
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if n != 1 {
		noun += "s"
	}
	return s + " " + noun
}

// renumber numbers the points that triangles use in their order and returns
// them. It uses number for it, whose contents do not matter.
func (s *Scan) renumber(number []int32) (kept []int32) {
	clear(number)
	n := 0
	for _, t := range s.Triangles {
		if t[0] < 0 {
			continue
		}
		for _, v := range t {
			if number[v] == 0 {
				number[v] = 1
				n++
			}
		}
	}
	kept = make([]int32, 0, n)
	for v, used := range number {
		if used != 0 {
			number[v] = int32(len(kept))
			kept = append(kept, int32(v))
		}
	}
	for i := range s.Triangles {
		if t := &s.Triangles[i]; t[0] >= 0 {
			t[0], t[1], t[2] = number[t[0]], number[t[1]], number[t[2]]
		}
	}
	return kept
}

// round stores the points kept as offsets from an origin, and packs their
// normals.
func (s *Scan) round(ctx context.Context, it Items, kept []int32, jobs int) error {
	n, at := it.Points, it.At
	if kept != nil {
		n, at = len(kept), func(k int) r3.Vector { return it.At(int(kept[k])) }
	}
	if s.Normals != nil {
		for k, i := range kept {
			s.Normals[k] = s.Normals[i]
		}
		s.Normals = s.Normals[:n]
	}
	s.Origin = originOf(n, at)
	s.Offsets = make([]Vec32, n)
	return parallel.Chunks(ctx, jobs, n, itemChunk, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			s.Offsets[i] = vec32(at(i).Sub(s.Origin))
		}
	})
}

// originOf returns a point near the middle of n points: the median of a sample
// spread over them, rounded to a multiple of a power of two of about a
// sixteenth of their spread. A scan that lies about zero thus keeps the origin
// zero, and offsets of single precision files are mostly exact.
func originOf(n int, at func(i int) r3.Vector) r3.Vector {
	var c [3][]float64
	for k := range min(n, originSamples) {
		p := at(k * n / min(n, originSamples))
		c[0], c[1], c[2] = append(c[0], p.X), append(c[1], p.Y), append(c[2], p.Z)
	}
	if n == 0 {
		return r3.Vector{}
	}
	spread := 0.0 // squared diagonal of the box around the middle nine tenths
	for _, x := range c {
		slices.Sort(x)
		d := quantile(x, 1-originTail) - quantile(x, originTail)
		spread += d * d
	}
	step := math.Exp2(math.Round(math.Log2(math.Sqrt(spread) / originSteps)))
	if !(step > 0) {
		step = math.SmallestNonzeroFloat64
	}
	near := func(x []float64) float64 {
		m := quantile(x, 0.5)
		if r := math.Round(m/step)*step + 0; !math.IsNaN(r) && !math.IsInf(r, 0) {
			return r
		}
		return m
	}
	return r3.Vector{X: near(c[0]), Y: near(c[1]), Z: near(c[2])}
}

// quantile returns the quantile q of sorted numbers.
func quantile(x []float64, q float64) float64 { return x[int(math.Round(q*float64(len(x)-1)))] }

// unitNormals gives normals unit length, zero where there is none, and drops
// them all where every one is zero.
func (s *Scan) unitNormals() {
	some := false
	for i, n := range s.Normals {
		v := n.R3()
		if d := v.Norm2() - 1; math.Abs(d) > unitSlack || d != d {
			if l := v.Norm(); l > 0 && l <= maxCoordinate {
				s.Normals[i] = vec32(v.Mul(1 / l))
			} else {
				s.Normals[i] = Vec32{}
			}
		}
		some = some || s.Normals[i] != Vec32{}
	}
	if !some {
		s.Normals = nil
	}
}
