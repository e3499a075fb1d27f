package scanio

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/hschendel/stl"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// cornersOf returns the corners of a mesh's triangles, in order.
func cornersOf(s *mesh.Scan) [][3]r3.Vector {
	var f [][3]r3.Vector
	for _, t := range s.Triangles {
		f = append(f, [3]r3.Vector{s.Point(int(t[0])), s.Point(int(t[1])), s.Point(int(t[2]))})
	}
	return f
}

// The same facets come out as from github.com/hschendel/stl, where that can
// read the file.
func TestSTLAgreesWithLibrary(t *testing.T) {
	for _, file := range []string{
		"assimp_Spider_binary.stl", "hschendel_confusingheader_bin.stl", "hschendel_simple_ascii.stl",
		"numpystl_stl_binary_StarWithEmptyHeader.stl", "numpystl_stl_tests_triamid.stl", "numpystl_stl_tests_unix.stl",
		"numpystl_stl_tests_dos.stl", "trimesh_20mm-xyz-cube.stl", "numpystl_stl_binary_CubeInvalidUnicode.stl",
	} {
		path := filepath.Join(corpus, file)
		solid, err := stl.ReadFile(path)
		require.NoError(t, err, file)
		s, err := Read(t.Context(), path, Options{})
		require.NoError(t, err, file)
		require.Equal(t, len(solid.Triangles), s.Source.Triangles)
		_, hi := s.Bounds()
		near := 1e-6 * hi.Norm()
		for i, f := range cornersOf(s) {
			item := i
			if s.SourceIndex != nil {
				item = int(s.SourceIndex[i])
			}
			v := solid.Triangles[item].Vertices
			if s.Removed.Rewound > 0 && f[0].Distance(r3.Vector{X: float64(v[0][0]), Y: float64(v[0][1]), Z: float64(v[0][2])}) <= near &&
				f[1].Distance(r3.Vector{X: float64(v[2][0]), Y: float64(v[2][1]), Z: float64(v[2][2])}) <= near {
				v[1], v[2] = v[2], v[1]
			}
			for k, v := range v {
				want := r3.Vector{X: float64(v[0]), Y: float64(v[1]), Z: float64(v[2])}
				require.LessOrEqual(t, f[k].Distance(want), near, "%s facet %d", file, item)
			}
		}
	}
}

func binarySTL(tris ...[3][3]float32) []byte {
	b := make([]byte, 80)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(tris)))
	for _, t := range tris {
		b = append(b, make([]byte, 12)...)
		for _, v := range t {
			for _, x := range v {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
			}
		}
		b = append(b, 0, 0)
	}
	return b
}

func TestSTLWeldsAndDrops(t *testing.T) {
	nan := float32(math.NaN())
	inf := float32(math.Inf(1))
	zero := float32(math.Copysign(0, -1))
	a, b, c, d := [3]float32{0, 0, 0}, [3]float32{10, 0, 0}, [3]float32{0, 10, 0}, [3]float32{10, 10, 0}
	file := binarySTL(
		[3][3]float32{a, b, c},
		[3][3]float32{{nan, 0, 0}, b, c}, // broken
		[3][3]float32{b, d, c},
		[3][3]float32{c, b, {zero, zero, 0}},                 // the first again, turned over, with -0
		[3][3]float32{a, a, b},                               // no area
		[3][3]float32{a, {5, 5, 0}, d},                       // on a line
		[3][3]float32{{0, 0, inf}, b, c},                     // broken
		[3][3]float32{b, c, a},                               // the first again
		[3][3]float32{a, b, {math.Nextafter32(0, 1), 10, 0}}, // like the first, but for one corner
	)
	s, err := readBytes(t, file, "part.stl", blockSize, Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	checkScan(t, s)
	assert.Equal(t, mesh.Removed{Broken: 2, ZeroArea: 2, Duplicate: 2, Rewound: 1}, s.Removed)
	assert.Equal(t, []int32{0, 2, 8}, s.SourceIndex)
	assert.Equal(t, 5, s.Len())
	assert.Equal(t, [][3]int32{{0, 1, 2}, {1, 3, 2}, {0, 4, 1}}, s.Triangles)
	assert.Equal(t, 9, s.Source.Triangles)
	assert.Equal(t, 27, s.Source.Points)
}

func TestSTLErrors(t *testing.T) {
	whole := binarySTL([3][3]float32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, [3][3]float32{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}})
	solid := bytes.Clone(whole)
	copy(solid, "solid made by some exporter")
	huge := bytes.Clone(whole)
	binary.LittleEndian.PutUint32(huge[80:], math.MaxUint32)
	none := bytes.Clone(whole[:84])
	binary.LittleEndian.PutUint32(none[80:], 0)
	facet := "facet normal 0 0 1\n outer loop\n  vertex 0 0 0\n  vertex 1 0 0\n  vertex 0 1 0\n endloop\nendfacet\n"
	for _, c := range []struct {
		name, file, what string
		line             int
		truncated        bool
	}{
		{"binary, cut in a facet", string(whole[:len(whole)-20]), "truncated: 2 facets promised, which take 184 bytes, but the file has 164 bytes", 0, true},
		{"binary, cut behind a facet", string(whole[:134]), "truncated: 2 facets promised", 0, true},
		{"binary that calls itself solid, cut", string(solid[:150]), "truncated: 2 facets promised", 0, true},
		{"binary, cut in the header", string(whole[:60]), "truncated", 0, true},
		{"binary with a wild count", string(huge), "truncated: 4,294,967,295 facets promised", 0, true},
		{"binary without facets", string(none), "the header states 0 facets", 0, false},
		{"text, cut in a facet", "solid a\n" + facet + facet[:60], "truncated: the file ends within a facet", 12, true},
		{"text, cut in a number", "solid a\n" + facet[:72], "truncated: three numbers must follow vertex", 6, true},
		{"text, cut in a word", "solid a\n" + facet + facet[:len(facet)-5], `truncated: unknown word "endf`, 15, true},
		{"text, a letter in a number", "solid a\n" + strings.Replace(facet, "1 0 0", "1 O 0", 1), "three numbers must follow vertex", 5, false},
		{"text, two vertices", "solid a\n" + strings.Replace(facet, "  vertex 1 0 0\n", "", 1) + "endsolid a\n", "this has 2 corners", 7, false},
		{"text, four vertices", "solid a\n" + strings.Replace(facet, "  vertex 1 0 0\n", "  vertex 1 0 0\n  vertex 1 0 0\n", 1), "a vertex too many", 7, false},
		{"text, no facets", "solid a\nendsolid a\n", "no facets", 0, false},
		{"text, only flat facets", "solid a\n" + strings.Replace(facet, "0 1 0", "2 0 0", 1) + "endsolid", "all 1 triangle are broken or without area", 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readBytes(t, []byte(c.file), "part.stl", blockSize, Options{})
			var bad *FormatError
			require.True(t, errors.As(err, &bad), "%v", err)
			assert.ErrorContains(t, err, "part.stl: STL")
			assert.ErrorContains(t, err, c.what)
			assert.Equal(t, c.line, bad.Line, err.Error())
			assert.Equal(t, c.truncated, bad.Truncated)
		})
	}
}

func TestTextSTLForms(t *testing.T) {
	facet := "facet normal 0 0 1\n outer loop\n  vertex 0 0 0\n  vertex 1 0 0\n  vertex 0 1e0 0\n endloop\nendfacet\n"
	for _, c := range []struct {
		name, file string
		warnings   int
	}{
		{"plain", "solid a\n" + facet + "endsolid a\n", 0},
		{"capitals", strings.ToUpper("solid a\n" + facet + "endsolid a\n"), 0},
		{"no name, no line end", "solid\n" + facet + "endsolid", 0},
		{"name with words of the format", "solid facet endsolid vertex\n" + facet + "endsolid facet endsolid vertex\n", 0},
		{"no endsolid", "solid a\n" + facet, 1},
		{"end facet in two words", "solid a\n" + strings.NewReplacer("endloop", "end loop", "endfacet", "end facet").Replace(facet) + "end solid a\n", 0},
		{"normal that is none", "solid a\n" + strings.Replace(facet, "0 0 1", "nan - 1.#IND", 1) + "endsolid a\n", 0},
		{"no normal", "solid a\n" + strings.Replace(facet, " normal 0 0 1", "", 1) + "endsolid a\n", 0},
		{"indented, blank lines", strings.ReplaceAll("solid a\n"+facet+"endsolid a\n", "\n", "\n\n\t  "), 0},
		{"all on one line", strings.ReplaceAll("solid a\n"+facet+"endsolid a solid b "+facet+" endsolid", "\n", " "), 0},
		{"facet on one line", "solid a\n" + strings.ReplaceAll(facet, "\n", " ") + "\nendsolid a\n", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := readBytes(t, []byte(c.file), "part.stl", blockSize, Options{Unit: mesh.Inch})
			require.NoError(t, err)
			checkScan(t, s)
			assert.Equal(t, [][3]r3.Vector{{{}, {X: 25.4}, {Y: 25.4}}}, roundFacets(s))
			assert.Len(t, s.Warnings, c.warnings)
		})
	}
}

// roundFacets returns the corners rounded to a nanometre.
func roundFacets(s *mesh.Scan) [][3]r3.Vector {
	f := cornersOf(s)
	for i := range f {
		for k, v := range f[i] {
			round := func(x float64) float64 { return math.Round(x*1e6)/1e6 + 0 }
			f[i][k] = r3.Vector{X: round(v.X), Y: round(v.Y), Z: round(v.Z)}
		}
	}
	return f
}

// A mesh of many blocks and buckets is welded to the vertices it was made of,
// in whatever order its triangles come, on any number of cores.
func TestSTLWeldsLargeMeshes(t *testing.T) {
	for _, shuffled := range []bool{false, true} {
		made := waves(100, true, shuffled)
		file := written(t, made, WriteSTL)
		s, err := readBytes(t, file, "w.stl", blockSize, Options{Jobs: 1})
		require.NoError(t, err)
		checkScan(t, s)
		require.Equal(t, made.Len(), s.Len())
		require.Equal(t, len(made.Triangles), len(s.Triangles))
		want := cornersOf(made)
		for i, f := range cornersOf(s) {
			for k := range 3 {
				if d := f[k].Distance(want[i][k]); d > 2e-6 {
					t.Fatalf("corner %d of triangle %d is off by %g", k, i, d)
				}
			}
		}
		for _, jobs := range []int{2, 7} {
			got, err := readBytes(t, file, "w.stl", blockSize, Options{Jobs: jobs})
			require.NoError(t, err)
			require.Equal(t, s, got)
		}
	}
}

func TestReadMissingFile(t *testing.T) {
	_, err := Read(t.Context(), filepath.Join(t.TempDir(), "none.stl"), Options{})
	assert.ErrorIs(t, err, os.ErrNotExist)
}
