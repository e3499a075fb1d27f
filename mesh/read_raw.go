package mesh

import (
	"math"
	"math/bits"
	"slices"

	"github.com/golang/geo/r3"
)

// maxOffset is the largest coordinate, mm from the origin, that counts as
// one: its square still fits single precision. Anything farther out, like NaN
// and infinity, is broken.
const maxOffset = 1e15

// raw is what a reader gathers: the file's points and triangles in file
// order, before welding and cleaning.
type raw struct {
	scale  float64   // mm per unit of the file
	origin r3.Vector // mm

	off  []Vec32  // offsets from origin; NaN in all three where broken
	hash []uint32 // of the file's exact coordinates

	// exactAt, if not nil, reads the coordinates of three points once more.
	exactAt func(i int, t [3]int32) ([3][3]float64, error)

	exact []r3.Vector // instead of off and hash, where the caller wants the file's own numbers

	normals []Vec32    // as in the file, any length; nil if it has none
	tris    [][3]int32 // corners as point numbers; -1 where there is no such point

	// triItem maps tris to the file's triangles where the reader itself left
	// some out (counted in removed); nil means one to one.
	triItem  []int32
	fileTris int // triangles in the file
	removed  Removed
}

// grow makes room for n points.
func (r *raw) grow(n int, exact, normals bool) {
	if exact {
		r.exact = make([]r3.Vector, n)
		return
	}
	r.off = make([]Vec32, n)
	r.hash = make([]uint32, n)
	if normals {
		r.normals = make([]Vec32, n)
	}
}

// set stores the file's coordinates of point i.
func (r *raw) set(i int, x, y, z float64) {
	if r.exact != nil {
		r.exact[i] = r3.Vector{X: x, Y: y, Z: z}
		return
	}
	r.off[i] = r.offset(x, y, z)
	r.hash[i] = hashOf(x, y, z)
}

// offset returns the offset of a point given in the file's unit.
func (r *raw) offset(x, y, z float64) Vec32 {
	x = float64(x*r.scale) - r.origin.X
	y = float64(y*r.scale) - r.origin.Y
	z = float64(z*r.scale) - r.origin.Z
	// False for NaN too.
	if math.Abs(x) <= maxOffset && math.Abs(y) <= maxOffset && math.Abs(z) <= maxOffset {
		return Vec32{float32(x), float32(y), float32(z)}
	}
	nan := float32(math.NaN())
	return Vec32{nan, nan, nan}
}

// hashOf mixes the exact coordinates of a point; -0 counts as 0.
func hashOf(x, y, z float64) uint32 {
	h := math.Float64bits(x+0) * 0x9E3779B97F4A7C15
	h = (bits.RotateLeft64(h, 29) ^ math.Float64bits(y+0)) * 0xBF58476D1CE4E5B9
	h = (bits.RotateLeft64(h, 29) ^ math.Float64bits(z+0)) * 0x94D049BB133111EB
	return uint32(h >> 32)
}

// broken reports whether an offset stands for a broken point.
func (v Vec32) broken() bool { return v[0] != v[0] }

// sample gathers points spread over a file, to choose the origin and to guess
// at the unit.
type sample struct{ x, y, z []float64 }

func (s *sample) add(x, y, z float64) {
	if Finite(r3.Vector{X: x, Y: y, Z: z}) {
		s.x, s.y, s.z = append(s.x, x), append(s.y, y), append(s.z, z)
	}
}

// spread returns the length of the diagonal of the box that holds the middle
// nine tenths of the sample along each axis, in the file's unit.
func (s *sample) spread() float64 {
	var sum float64
	for _, c := range [][]float64{s.x, s.y, s.z} {
		lo, hi := middle(c, 0.05), middle(c, 0.95)
		sum += (hi - lo) * (hi - lo)
	}
	return math.Sqrt(sum)
}

// middle returns the quantile q of c, which it sorts; 0 for none.
func middle(c []float64, q float64) float64 {
	if len(c) == 0 {
		return 0
	}
	slices.Sort(c)
	return c[int(math.Round(q*float64(len(c)-1)))]
}

// origin returns a point near the middle of the sample, mm: the median,
// rounded to a multiple of a power of two of about a sixteenth of the spread.
// A scan that lies about zero thus keeps the origin zero, and offsets of
// single precision files are mostly exact.
func (s *sample) origin(scale float64) r3.Vector {
	step := s.spread() * scale / 16
	if !(step > 0) || math.IsInf(step, 0) {
		step = math.SmallestNonzeroFloat64
	} else {
		step = math.Exp2(math.Round(math.Log2(step)))
	}
	near := func(c []float64) float64 {
		m := middle(c, 0.5) * scale
		if r := math.Round(m/step)*step + 0; !math.IsNaN(r) && !math.IsInf(r, 0) {
			return r
		}
		if math.IsNaN(m) || math.IsInf(m, 0) {
			return 0
		}
		return m
	}
	return r3.Vector{X: near(s.x), Y: near(s.y), Z: near(s.z)}
}
