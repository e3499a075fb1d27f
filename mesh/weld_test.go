package mesh

import (
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// firstByMap is firstEqual by a map of the exact coordinates.
func firstByMap(pts [][3]float64) []int32 {
	seen := map[[3]float64]int32{} // -0 equals 0 as a key
	var first []int32
	for i, p := range pts {
		switch f, ok := seen[p]; {
		case p[0]-p[0]+p[1]-p[1]+p[2]-p[2] != 0:
			first = append(first, -1)
		case ok:
			first = append(first, f)
		default:
			seen[p] = int32(i)
			first = append(first, int32(i))
		}
	}
	return first
}

func gathered(pts [][3]float64) *raw {
	r := &raw{scale: 1}
	r.grow(len(pts), false, false)
	for i, p := range pts {
		r.set(i, p[0], p[1], p[2])
	}
	return r
}

func TestFirstEqualFindsWhatAMapFinds(t *testing.T) {
	values := []float64{0, math.Copysign(0, -1), 1, math.Nextafter(1, 2), -1, 1e-300, math.NaN(), math.Inf(1), 1e10}
	rapid.Check(t, func(t *rapid.T) {
		one := rapid.SampledFrom(values)
		pts := rapid.SliceOf(rapid.Custom(func(t *rapid.T) [3]float64 {
			return [3]float64{one.Draw(t, "x"), one.Draw(t, "y"), one.Draw(t, "z")}
		})).Draw(t, "points")
		r := gathered(pts)
		first, err := firstEqual(t.Context(), r.off, r.hash, 1)
		require.NoError(t, err)
		if len(pts) > 0 {
			require.Equal(t, firstByMap(pts), first)
		}
	})
}

// Many buckets, many equal points, tables that grow, on any number of cores.
func TestFirstEqualOfManyPoints(t *testing.T) {
	for name, distinct := range map[string]int{"few distinct": 10, "half": 150_000, "nearly all": 50_000_000} {
		rng := rand.New(rand.NewPCG(3, 4))
		pts := make([][3]float64, 300_000)
		for i := range pts {
			k := rng.IntN(distinct)
			pts[i] = [3]float64{float64(k % 1000), float64(k/1000) / 7, 1}
		}
		r := gathered(pts)
		want := firstByMap(pts)
		for _, jobs := range []int{1, 2, 8} {
			first, err := firstEqual(t.Context(), r.off, slices.Clone(r.hash), jobs)
			require.NoError(t, err)
			require.Equal(t, want, first, name)
		}
	}
}

func TestZeroArea(t *testing.T) {
	o := [3]float64{}
	for _, c := range []struct {
		name         string
		a, b, c      [3]float64
		zero, nearly bool
	}{
		{"a right triangle", o, [3]float64{1, 0, 0}, [3]float64{0, 1, 0}, false, false},
		{"two corners in one", [3]float64{5, 5, 5}, [3]float64{5, 5, 5}, [3]float64{0, 1, 0}, true, false},
		{"corners on a line", o, [3]float64{1, 2, 3}, [3]float64{3, 6, 9}, true, true},
		{"corners on a line but for rounding", o, [3]float64{0.1, 0.2, 0.3}, [3]float64{0.3, 0.6, 0.9}, false, true},
		{"a needle of a micrometre at 100 mm", [3]float64{100, 100, 0}, [3]float64{101, 100, 0}, [3]float64{100.5, 100.001, 0}, false, false},
		{"height below single precision", [3]float64{100, 100, 0}, [3]float64{101, 100, 0}, [3]float64{100.5, 100 + 1e-6, 0}, false, true},
		{"side below single precision", [3]float64{100, 100, 0}, [3]float64{101, 100, 0}, [3]float64{101, 100 + 1e-5, 0}, false, false},
		{"the same height near zero", o, [3]float64{1, 0, 0}, [3]float64{0.5, 1e-6, 0}, false, false},
		{"very small", o, [3]float64{1e-30, 0, 0}, [3]float64{0, 1e-30, 0}, false, false},
		{"very large", o, [3]float64{1e15, 0, 0}, [3]float64{0, 1e15, 0}, false, false},
	} {
		for _, p := range [][3][3]float64{{c.a, c.b, c.c}, {c.c, c.a, c.b}, {c.b, c.a, c.c}} {
			assert.Equal(t, c.zero, zeroArea(p[0], p[1], p[2]), c.name)
			assert.Equal(t, c.nearly, nearlyFlat(p[0], p[1], p[2], offsetRounding), c.name)
		}
	}
}

// The same triangles are flat in every format and unit: those that are flat
// by the file's own numbers, and not those that single precision makes so.
func TestZeroAreaInEveryFormat(t *testing.T) {
	s := &Scan{Offsets: []Vec32{{0.1, 0.2, 0.3}, {50.25, 0, 0}, {0, 40.75, 0}, {30.1, 30.1, 0},
		{0.3, 0.3, 0.3}, {0.6, 0.6, 0.6}, {1.2, 1.2, 1.2}, // on a line in single precision: each twice the last
		{50.25, 1e-5, 0}, {120.5, 200, 7}},
		Triangles: [][3]int32{{0, 1, 2}, {1, 3, 2}, {4, 5, 6}, {1, 7, 3}, {8, 1, 3}}}
	s.Normals = make([]Vec32, s.Len())
	for name, write := range map[string]func(io.Writer, *Scan) error{
		"binary.stl": WriteSTL, "float.ply": floatPLY, "double.ply": writePLY, "a.obj": WriteOBJ,
	} {
		for _, unit := range []Unit{Millimetre, Inch, Foot} {
			got, err := readBytes(t, written(t, s, write), name, textChunk, ReadOptions{Unit: unit})
			require.NoError(t, err)
			checkScan(t, got)
			assert.Equal(t, Removed{ZeroArea: 1}, got.Removed, "%s in %s", name, unit)
			assert.Equal(t, []int32{0, 1, 3, 4}, got.FileItem)
		}
	}
}

// A cone's tip belongs to many triangles; repeated ones are still found.
func TestRepeatedTrianglesAtOnePoint(t *testing.T) {
	s := &Scan{Offsets: []Vec32{{0, 0, 5}}}
	const n = 200
	for i := range n {
		a := 2 * math.Pi * float64(i) / n
		s.Offsets = append(s.Offsets, Vec32{float32(math.Cos(a)), float32(math.Sin(a)), 0})
	}
	for i := range int32(n) {
		s.Triangles = append(s.Triangles, [3]int32{0, 1 + i, 1 + (i+1)%n}, [3]int32{1 + (i+1)%n, 1 + i, 0})
	}
	require.NoError(t, s.cleanMesh(t.Context(), 2))
	assert.Equal(t, Removed{Duplicate: n}, s.Removed)
	require.Len(t, s.Triangles, n)
	for i, item := range s.FileItem {
		assert.Equal(t, int32(2*i), item)
	}
}

// Buckets of far more points than wanted, as chance or very large files make
// them, only make their table grow.
func TestWeldCrowdedBuckets(t *testing.T) {
	const n, distinct = 60_000, 40_000
	off, hash := make([]Vec32, n), make([]uint32, n)
	recs := make([]corner, n)
	want := make([]int32, n)
	for i := range n {
		k := i % distinct
		off[i], hash[i] = Vec32{float32(k)}, uint32(k) // all in the first bucket
		recs[i] = corner{x: uint32(k), y: 7, i: int32(i)}
		want[i] = int32(k)
	}
	first, err := firstEqual(t.Context(), off, hash, 2)
	require.NoError(t, err)
	require.Equal(t, want, first)
	first = make([]int32, n)
	require.NoError(t, weldBuckets(t.Context(), recs, []int32{0, n}, first, 2))
	require.Equal(t, want, first)
}
