package mesh

import (
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// Vec32 is a position offset, mm, or a unit normal, in single precision.
type Vec32 [3]float32

// R3 returns v in double precision.
func (v Vec32) R3() r3.Vector {
	return r3.Vector{X: float64(v[0]), Y: float64(v[1]), Z: float64(v[2])}
}

// vec32 rounds v to single precision.
func vec32(v r3.Vector) Vec32 { return Vec32{float32(v.X), float32(v.Y), float32(v.Z)} }

// Scan is a scanned point cloud or triangle mesh. Lengths are millimetres: a
// reader scales once, on entry.
//
// Point i lies at Origin + Offsets[i]; single precision offsets from a double
// precision origin near the scan's middle resolve better than any scanner
// does. A mesh's points are its vertices.
type Scan struct {
	Origin  r3.Vector
	Offsets []Vec32

	// Normals holds one unit normal a point, out of the material, or is nil.
	// A zero normal means that none is known at that point.
	Normals []Vec32

	// Unoriented says that it is not known which side of Normals is out of the
	// material: they may point either way.
	Unoriented bool

	// Triangles holds the corners of each triangle, counter-clockwise seen
	// from outside, as indices into Offsets. It is nil for a cloud.
	Triangles [][3]int32

	// Source describes the file the scan came from.
	Source Source

	// SourceIndex maps each kept item (a triangle of a mesh, a point of a cloud)
	// to its place in the file, counted from 0 in file order, where something
	// was dropped. Nil means item i is the file's item i.
	SourceIndex []int32

	// Removed counts what was left out and why.
	Removed Removed

	// Warnings are complete sentences for a person: what looked odd, and what
	// was done about it.
	Warnings []string
}

// Unit is a unit of length, named as on the command line: "mm", "cm", "m",
// "in", "ft".
type Unit string

// The units that a scan may be in.
const (
	Millimetre Unit = "mm"
	Centimetre Unit = "cm"
	Metre      Unit = "m"
	Inch       Unit = "in"
	Foot       Unit = "ft"
)

var millimetres = map[Unit]float64{Millimetre: 1, Centimetre: 10, Metre: 1000, Inch: 25.4,
	Foot: 304.8}

// Millimetres returns the length of one u in millimetres. The inch is 25.4 mm
// exactly (international yard and pound agreement, 1959).
func (u Unit) Millimetres() (float64, error) {
	mm, ok := millimetres[u]
	if !ok {
		return 0, fmt.Errorf("unit %q is not known: use mm, cm, m, in or ft", string(u))
	}
	return mm, nil
}

// UnitSource says who stated a scan's unit.
type UnitSource string

// The unit was given by the caller, stated in the file, or assumed.
const (
	UnitGiven   UnitSource = "given"
	UnitFile    UnitSource = "file"
	UnitAssumed UnitSource = "assumed"
)

// Source is what is known of the file that a scan was read from.
type Source struct {
	File       string // base name, may be empty
	Format     string // "stl", "ply", "obj", "xyz", "3mf"; as read from the content
	SHA256     string // checksum of the file (FIPS 180-4), hexadecimal; empty: not asked for
	Unit       Unit   // of the numbers in the file
	UnitSource UnitSource
	Points     int // points (vertices; for STL three a facet) in the file, dropped ones included
	Triangles  int // triangles in the file, polygons split into fans, dropped ones included
}

// Removed counts items left out of a scan, triangles of a mesh or points of a
// cloud, and those that were mended.
type Removed struct {
	Broken    int // a coordinate that is not a finite number, or a corner that does not exist
	ZeroArea  int // triangles of zero area after welding
	Duplicate int // a triangle (any order of corners, either side) or cloud point that stood already
	Rewound   int // kept, but wound the other way, so that the surface has one outer side
}

// Len returns the number of points.
func (s *Scan) Len() int { return len(s.Offsets) }

// IsMesh reports whether the scan has triangles.
func (s *Scan) IsMesh() bool { return len(s.Triangles) > 0 }

// Point returns point i, mm.
func (s *Scan) Point(i int) r3.Vector { return s.Origin.Add(s.Offsets[i].R3()) }

// Normal returns the unit normal of point i, or zero where none is known.
func (s *Scan) Normal(i int) r3.Vector {
	if s.Normals == nil {
		return r3.Vector{}
	}
	return s.Normals[i].R3()
}

// Bounds returns the smallest and largest corner of the box around all points,
// mm. An empty scan has zero bounds.
func (s *Scan) Bounds() (lo, hi r3.Vector) {
	if len(s.Offsets) == 0 {
		return r3.Vector{}, r3.Vector{}
	}
	l, h := s.Offsets[0], s.Offsets[0]
	for i := range s.Offsets {
		extend((*[3]float32)(&l), (*[3]float32)(&h), s.Offsets[i])
	}
	return s.Origin.Add(l.R3()), s.Origin.Add(h.R3())
}

// extend makes the box from lo to hi hold v.
func extend(lo, hi *[3]float32, v [3]float32) {
	for k, x := range v { // rarely true, so cheaper than min and max
		if x < lo[k] {
			lo[k] = x
		}
		if x > hi[k] {
			hi[k] = x
		}
	}
}

// Diagonal returns the length of the diagonal of the box around all points, mm.
func (s *Scan) Diagonal() float64 {
	lo, hi := s.Bounds()
	return hi.Sub(lo).Norm()
}

// Width returns the diagonal, mm, of the box around the middle 98 % of a scan's points
// along each axis, so that a stray point does not count.
func (s *Scan) Width() float64 {
	n := min(s.Len(), widthSamples)
	if n == 0 {
		return 0
	}
	cut := n / widthCut
	sum := 0.0
	x := make([]float32, n)
	for axis := range 3 {
		for k := range x {
			x[k] = s.Offsets[k*s.Len()/n][axis]
		}
		slices.Sort(x)
		d := float64(x[n-1-cut]) - float64(x[cut])
		sum += d * d
	}
	return math.Sqrt(sum)
}
