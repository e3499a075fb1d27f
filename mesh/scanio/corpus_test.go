package scanio

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/geom"
)

const corpus = "../../testdata/readers"

// corpusRow is what a file of testdata/readers must do. Counts are those of
// the file; the sources are in testdata/README.md.
type corpusRow struct {
	file      string
	format    string
	points    int // 0 where the table of its source gives none
	triangles int
	kept      int    // distinct points kept, 0 where not stated
	refuse    string // part of the error
	line      int
}

var corpusRows = []corpusRow{
	{file: "assimp_Spider_binary.stl", format: "stl", points: 3 * 1368, triangles: 1368},
	{file: "assimp_cube_binary_header_with_RN_newline.ply", format: "ply", points: 8, triangles: 12, kept: 8},
	{file: "assimp_float-color.ply", format: "ply", points: 3, triangles: 1, kept: 3},
	{file: "assimp_invalid_crash-30d6d0f7c529b3b66b4131700b7a4580cd7082df.ply", format: "ply", refuse: "end_header"},
	{file: "assimp_issue623.ply", format: "ply", refuse: "vertex_indices", line: 14},
	{file: "assimp_obj_box.obj", format: "obj", points: 8, triangles: 12, kept: 8},
	{file: "assimp_obj_box_longline.obj", format: "obj", points: 8, triangles: 944, kept: 8},
	{file: "assimp_obj_box_without_lineending.obj", format: "obj", points: 8, triangles: 12, kept: 8},
	{file: "assimp_obj_number_formats.obj", format: "obj", refuse: "3.1+e2", line: 11},
	{file: "assimp_obj_only_a_part_of_vertexcolors.obj", format: "obj", points: 5, triangles: 3, kept: 5},
	{file: "assimp_obj_point_cloud.obj", format: "obj", points: 3, kept: 3},
	{file: "assimp_obj_regr_3429812.obj", format: "obj", points: 4, triangles: 4, kept: 4},
	{file: "assimp_triangle.stl", format: "stl", points: 3, triangles: 1, kept: 3},
	{file: "assimp_triangle_with_two_solids.stl", format: "stl", points: 6, triangles: 2, kept: 6},
	{file: "happly_platonic_shelf.ply", format: "ply", points: 50, triangles: 80},
	{file: "happly_platonic_shelf_big_endian.ply", format: "ply", points: 50, triangles: 80},
	{file: "hschendel_confusingheader_bin.stl", format: "stl", points: 12, triangles: 4},
	{file: "hschendel_simple_ascii.stl", format: "stl", points: 12, triangles: 4, kept: 4},
	{file: "numpystl_stl_ascii_HalfDonut.stl", format: "stl", points: 864, triangles: 288},
	{file: "numpystl_stl_ascii_Moon_Chinese.stl", format: "stl", points: 348, triangles: 116},
	{file: "numpystl_stl_binary_CubeInvalidUnicode.stl", format: "stl", points: 36, triangles: 12, kept: 8},
	{file: "numpystl_stl_binary_HalfDonut.stl", format: "stl", points: 864, triangles: 288},
	{file: "numpystl_stl_binary_StarWithEmptyHeader.stl", format: "stl", points: 204, triangles: 68},
	{file: "numpystl_stl_tests_dos.stl", format: "stl", points: 348, triangles: 116, kept: 60},
	{file: "numpystl_stl_tests_triamid.stl", format: "stl", points: 30, triangles: 10},
	{file: "numpystl_stl_tests_unix.stl", format: "stl", points: 348, triangles: 116, kept: 60},
	{file: "tinyply_icosahedron_ascii.ply", format: "ply", points: 12, triangles: 20, kept: 12},
	{file: "trimesh_20mm-xyz-cube.stl", format: "stl", points: 780, triangles: 260, kept: 132},
	{file: "trimesh_BoxTextured.ply", format: "ply", points: 24, triangles: 12, kept: 8},
	{file: "trimesh_cube.OBJ", format: "obj", points: 8, triangles: 12, kept: 8},
	{file: "trimesh_cube_compressed.obj", format: "obj", points: 8, triangles: 12, kept: 8},
	{file: "trimesh_empty.obj", format: "obj", refuse: "no points"},
	{file: "trimesh_io_obj_points.obj", format: "obj", points: 8, kept: 8},
	{file: "trimesh_io_obj_wireframe.obj", format: "obj", points: 8, kept: 8},
	{file: "trimesh_io_ply_empty_bin.ply", format: "ply", refuse: "no points"},
	{file: "trimesh_io_ply_empty_header.ply", format: "ply", refuse: "no points"},
	{file: "trimesh_io_ply_points_bin.ply", format: "ply", points: 8, kept: 8},
	{file: "trimesh_jacked.obj", format: "obj", points: 8, triangles: 12, kept: 8},
	{file: "trimesh_joined_tetrahedra.obj", format: "obj", points: 5, triangles: 8, kept: 5},
	{file: "trimesh_metadata.ply", format: "ply", points: 4, triangles: 2, kept: 4},
	{file: "trimesh_multi.ply", format: "ply", points: 4, triangles: 2, kept: 4},
	{file: "trimesh_nancolor.obj", format: "obj", points: 8, triangles: 12, kept: 8},
	{file: "trimesh_negative_indices.obj", format: "obj", points: 8, triangles: 12, kept: 8},
	{file: "trimesh_notenoughindices.obj", format: "obj", points: 3, triangles: 1, kept: 3},
	{file: "trimesh_points_ascii_with_lists.ply", format: "ply", points: 5, kept: 5},
	{file: "trimesh_points_bin.ply", format: "ply", points: 5, kept: 5},
	{file: "trimesh_points_emptyascii.ply", format: "ply", points: 12, kept: 12},
	{file: "trimesh_polygonfaces.obj", format: "obj", points: 5, triangles: 3, kept: 5},
	{file: "trimesh_singlevn.obj", format: "obj", points: 4, triangles: 2, kept: 4},
}

func TestReadFilesOfOtherLibraries(t *testing.T) {
	seen := map[string]bool{}
	for _, row := range corpusRows {
		seen[row.file] = true
		t.Run(row.file, func(t *testing.T) {
			path := filepath.Join(corpus, row.file)
			s, err := Read(t.Context(), path, Options{})
			if row.refuse != "" {
				var bad *FormatError
				require.True(t, errors.As(err, &bad), "want a FormatError, got %v", err)
				assert.Contains(t, err.Error(), row.refuse)
				assert.NotContains(t, err.Error(), "\n")
				assert.Equal(t, row.format, bad.Format)
				if row.line > 0 {
					assert.Equal(t, row.line, bad.Line)
				}
				return
			}
			require.NoError(t, err)
			checkScan(t, s)
			assert.Equal(t, row.format, s.Source.Format)
			assert.Equal(t, row.points, s.Source.Points)
			assert.Equal(t, row.triangles, s.Source.Triangles)
			assert.Equal(t, row.triangles > 0, s.IsMesh())
			if row.kept > 0 {
				assert.Equal(t, row.kept, s.Len())
			}
			if !s.IsMesh() {
				assert.Equal(t, row.points, s.Len())
			}
			assert.Equal(t, row.triangles, len(s.Triangles)+dropped(s))
		})
	}
	files, err := os.ReadDir(corpus)
	require.NoError(t, err)
	for _, f := range files {
		assert.True(t, seen[f.Name()], "%s has no row", f.Name())
	}
}

// dropped returns how many triangles were left out.
func dropped(s *mesh.Scan) int {
	if !s.IsMesh() {
		return 0
	}
	return s.Removed.Broken + s.Removed.ZeroArea + s.Removed.Duplicate
}

// checkScan checks what holds for every scan that was read.
func checkScan(t testing.TB, s *mesh.Scan) {
	t.Helper()
	require.NotZero(t, s.Len())
	for i := range s.Len() {
		if !geom.Finite(s.Point(i)) {
			t.Fatalf("point %d is not finite", i)
		}
		if n := s.Normal(i).Norm(); n != 0 && math.Abs(n-1) > 1e-6 {
			t.Fatalf("normal %d has the length %g", i, n)
		}
	}
	items := s.Len()
	total := s.Source.Points
	if s.IsMesh() {
		items, total = len(s.Triangles), s.Source.Triangles
		for _, c := range s.Triangles {
			for k, v := range c {
				if v < 0 || int(v) >= s.Len() || v == c[(k+1)%3] {
					t.Fatalf("triangle %v of %d points", c, s.Len())
				}
			}
		}
	}
	if s.Normals != nil {
		require.Len(t, s.Normals, s.Len())
	}
	require.Equal(t, total, items+s.Removed.Broken+s.Removed.ZeroArea+s.Removed.Duplicate)
	if s.SourceIndex == nil {
		require.Equal(t, total, items)
		return
	}
	require.Len(t, s.SourceIndex, items)
	last := int32(-1)
	for _, f := range s.SourceIndex {
		if f <= last {
			t.Fatalf("item %d behind %d", f, last)
		}
		last = f
	}
	require.Less(t, int(last), total)
}

func TestReadTellsTheFormatByContent(t *testing.T) {
	for _, c := range []struct{ file, as, warning string }{
		{"trimesh_metadata.ply", "part.stl", "PLY"},
		{"assimp_triangle.stl", "part.obj", "STL"},
		{"trimesh_cube.OBJ", "part.xyz", "OBJ"},
		{"numpystl_stl_tests_triamid.stl", "part.ply", "STL"},
		{"numpystl_stl_tests_triamid.stl", "part", ""},
	} {
		b, err := os.ReadFile(filepath.Join(corpus, c.file))
		require.NoError(t, err)
		s, err := ReadFrom(t.Context(), strings.NewReader(string(b)), int64(len(b)), c.as, Options{Unit: mesh.Millimetre})
		require.NoError(t, err, c.as)
		if said := strings.Join(s.Warnings, " "); c.warning == "" {
			assert.NotContains(t, said, "extension")
		} else {
			assert.Contains(t, said, "its content is "+c.warning)
		}
	}
}
