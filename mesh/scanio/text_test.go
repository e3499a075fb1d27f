package scanio

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"spotface/mesh"
)

func readText(t *testing.T, name, text string, opt Options) (*mesh.Scan, error) {
	t.Helper()
	return readBytes(t, []byte(text), name, blockSize, opt)
}

// cloudPoints returns all points of a scan.
func cloudPoints(s *mesh.Scan) []r3.Vector {
	var p []r3.Vector
	for i := range s.Len() {
		p = append(p, s.Point(i))
	}
	return p
}

func TestXYZForms(t *testing.T) {
	want := []r3.Vector{{X: 1.5, Y: -2.25, Z: 3}, {X: 4, Y: 5.5, Z: 600}, {X: -7, Y: 0, Z: 0.125}}
	normal := mesh.Vec32{0, 0.6, 0.8}
	for _, c := range []struct {
		name, text string
		normals    bool
		warnings   int
	}{
		{name: "spaces", text: "1.5 -2.25 3\n4 5.5 600\n-7 0 0.125\n"},
		{name: "no line end behind the last", text: "1.5 -2.25 3\n4 5.5 600\n-7 0 0.125", warnings: 1},
		{name: "many spaces, tabs, blank lines", text: "\n  1.5\t-2.25   3 \n\n4 5.5 600\n\t-7 0 0.125\n \n"},
		{name: "commas", text: "1.5,-2.25,3\n4,5.5,600\n-7,0,0.125\n"},
		{name: "commas and spaces", text: "1.5, -2.25, 3\n4 , 5.5 , 600\n-7,  0,0.125\n"},
		{name: "a comma at the end", text: "1.5,-2.25,3,\n4,5.5,600,\n-7,0,0.125,\n"},
		{name: "semicolons", text: "1.5;-2.25;3\n4;5.5;600\n-7;0;0.125\n"},
		{name: "decimal commas between semicolons", text: "1,5;-2,25;3\n4;5,5;600\n-7;0;0,125\n", warnings: 1},
		{name: "decimal commas, and words with points", text: "name;x;y;z\na.1;1,5;-2,25;3\nb.2;4;5,5;600\nc.3;-7;0;0,125\n", warnings: 1},
		{name: "decimal commas between tabs", text: "1,5\t-2,25\t3,0\n4,0\t5,5\t600,0\n-7,0\t0,0\t0,125\n", warnings: 1},
		{name: "exponents", text: "+15e-1 -2.25E0 .3e+1\n4. 55.d-1 6D2\n-7e0 -0 1.25e-1\n"},
		{name: "comments of every kind", text: "# one\n// two\n; three\n% four\n1.5 -2.25 3\n#5 6 7\n4 5.5 600\n//\n-7 0 0.125\n# end"},
		{name: "point count first", text: "3\n1.5 -2.25 3\n4 5.5 600\n-7 0 0.125\n"},
		{name: "wrong point count", text: "2\n1.5 -2.25 3\n4 5.5 600\n-7 0 0.125\n", warnings: 1},
		{name: "intensity", text: "1.5 -2.25 3 17\n4 5.5 600 255\n-7 0 0.125 0\n"},
		{name: "colour", text: "1.5 -2.25 3 17 0 0\n4 5.5 600 255 255 255\n-7 0 0.125 0 1 0\n"},
		{name: "normals", text: "1.5 -2.25 3 0 0.6 0.8\n4 5.5 600 0 0.6 0.8\n-7 0 0.125 0 0.6 0.8\n", normals: true},
		{name: "normals behind colour", text: "1.5,-2.25,3,9,9,9,0,0.6,0.8\n4,5.5,600,9,9,9,0,0.6,0.8\n-7,0,0.125,8,8,8,0,.6,.8\n", normals: true},
		{name: "header row", text: "x,y,z\n1.5,-2.25,3\n4,5.5,600\n-7,0,0.125\n"},
		{name: "header row in any order, normals", text: "name,NZ,z,\"ny\",Y,nx,intensity,X\nP1,0.8,3,0.6,-2.25,0,5,1.5\nP2,.8,600,.6,5.5,0,5,4\n\"P 3\",8e-1,0.125,0.6,0,0,,-7\n", normals: true},
		{name: "header row as a comment", text: "//z y x\n3 -2.25 1.5\n600 5.5 4\n0.125 0 -7\n"},
		{name: "header row as a comment, then the count", text: "//X Y Z R G B Nx Ny Nz\n3\n1.5 -2.25 3 0 0 0 0 0.6 0.8\n4 5.5 600 9 9 9 0 .6 .8\n-7 0 0.125 9 9 9 0 .6 .8\n", normals: true},
		{name: "a comment that is no header row", text: "# x y z in that order\n1.5 -2.25 3\n4 5.5 600\n-7 0 0.125\n"},
		{name: "header row of long names", text: "X_coord;Y_coord;Z_coord;Normal_X;Normal_Y;Normal_Z\n1.5;-2.25;3;0;0.6;0.8\n4;5.5;600;0;0.6;0.8\n-7;0;0.125;0;.6;.8\n", normals: true},
		{name: "header and count", text: "x y z\n3\n1.5 -2.25 3\n4 5.5 600\n-7 0 0.125\n"},
		{name: "byte order mark, line ends of two bytes", text: "\xef\xbb\xbfX Y Z\r\n1.5 -2.25 3\r\n4 5.5 600\r\n-7 0 0.125\r\n"},
		{name: "text in columns that do not matter", text: "1.5 -2.25 3 left\n4 5.5 600 left\n-7 0 0.125 right\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := readText(t, "cloud.txt", c.text, Options{Unit: mesh.Millimetre})
			require.NoError(t, err)
			checkScan(t, s)
			assert.Equal(t, "xyz", s.Source.Format)
			assert.Equal(t, want, cloudPoints(s))
			assert.Len(t, s.Warnings, c.warnings)
			if c.normals {
				assert.Equal(t, []mesh.Vec32{normal, normal, normal}, s.Normals)
			} else {
				assert.Nil(t, s.Normals)
			}
		})
	}
}

func TestXYZErrors(t *testing.T) {
	for _, c := range []struct {
		name, text, what string
		line             int
		truncated        bool
	}{
		{name: "a word among the numbers", text: "1 2 3\n4 five 6\n7 8 9\n", what: "not a number", line: 2},
		{name: "a number run together", text: "1 2 3\n4 5.6.7 8\n", what: "not a number", line: 2},
		{name: "a column missing", text: "# c\n1 2 3\n4 5\n7 8 9\n", what: "3 columns, this line has 2 columns", line: 3},
		{name: "cut short", text: "1 2 3\n4 5 6\n7 8", what: "truncated", line: 3, truncated: true},
		{name: "fewer points than counted", text: "4\n1 2 3\n4 5 6\n", what: "truncated: 4 points promised", line: 1, truncated: true},
		{name: "two columns", text: "1 2\n3 4\n", what: "2 columns of numbers where x, y, z are needed", line: 1},
		{name: "header row without z", text: "x,y,height\n1,2,3\n", what: "no column z", line: 1},
		{name: "header row that names x twice", text: "x,y,z,x\n1,2,3,4\n", what: "names x twice", line: 1},
		{name: "decimal commas between commas", text: "1,50,2,25,3,00\n4,00,5,55,6,00\n", what: "may be decimal signs as well"},
		{name: "points between thousands", text: "1.200,50;2,5;3\n4;5;6\n", what: "numbers hold both commas and points: \"1.200,50\""},
		{name: "either decimal sign", text: "1.5;2,5;3\n4;5;6\n", what: "numbers hold both commas and points"},
		{name: "a row under the header row that is no unit", text: "x,y,z\nmm,in,mm\n1,2,3\n", what: "not a number", line: 2},
		{name: "only comments", text: "# nothing\n\n", what: "holds no points"},
		{name: "prose", text: "Dear Sir,\nthe scan is attached.\n", what: `no scan of a known format starts with "Dear Sir,"`, line: 1},
		{name: "empty", text: "", what: "the file is empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readText(t, "cloud.xyz", c.text, Options{})
			var bad *FormatError
			require.True(t, errors.As(err, &bad), "%v", err)
			assert.ErrorContains(t, err, c.what)
			assert.Equal(t, c.line, bad.Line, err.Error())
			assert.Equal(t, c.truncated, bad.Truncated)
			assert.NotEmpty(t, bad.Fix)
		})
	}
}

func TestCloudDropsBrokenAndRepeatedPoints(t *testing.T) {
	s, err := readText(t, "c.csv", "1,2,3\nnan,5,6\n1.0,2,3e0\n7,,9\n0,0,inf\n-0,0,0\n0,0,0\n1e300,0,0\n7,8,9\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	checkScan(t, s)
	assert.Equal(t, mesh.Removed{Broken: 4, Duplicate: 2}, s.Removed)
	assert.Equal(t, []int32{0, 5, 8}, s.SourceIndex)
	assert.Equal(t, 9, s.Source.Points)
}

// Points closer than single precision can tell apart at their place are still
// different points.
func TestCloudKeepsPointsThatDifferInDoublePrecisionOnly(t *testing.T) {
	s, err := readText(t, "c.txt", "1000000.00001 0 0\n1000000.00002 0 0\n1000000.00001 0 0\n-1000000 0 0\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	assert.Equal(t, 3, s.Len())
	assert.Equal(t, 1, s.Removed.Duplicate)
}

// A scan in machine coordinates, far from zero, keeps its micrometres.
func TestOriginIsNearTheScan(t *testing.T) {
	s, err := readText(t, "c.txt", "5000000.0001 -300.0002 0.0003\n5000050.0001 -300.5 0\n5000100.0007 -299 1\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	assert.Less(t, s.Origin.Sub(r3.Vector{X: 5000050, Y: -300}).Norm(), 60.0)
	assert.InDelta(t, 0, s.Point(0).Sub(r3.Vector{X: 5000000.0001, Y: -300.0002, Z: 0.0003}).Norm(), 5e-6)
}

func TestReadPoints(t *testing.T) {
	dir := t.TempDir()
	read := func(name, text string) ([]r3.Vector, error) {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		p, _, err := ReadPoints(t.Context(), path)
		return p, err
	}
	p, err := read("two.txt", "1 2\n# c\n0.1 -0.3\n1 2\n")
	require.NoError(t, err)
	assert.Equal(t, []r3.Vector{{X: 1, Y: 2}, {X: 0.1, Y: -0.3}, {X: 1, Y: 2}}, p)

	p, err = read("two.csv", "y,x\n1.25,2\n")
	require.NoError(t, err)
	assert.Equal(t, []r3.Vector{{X: 2, Y: 1.25}}, p)

	p, err = read("three.txt", "123456789.123456789 0.1 1e-300\n")
	require.NoError(t, err)
	assert.Equal(t, []r3.Vector{{X: 123456789.123456789, Y: 0.1, Z: 1e-300}}, p)

	p, err = read("nine.csv", "x;y;z\n1,5;2,5;3,5\n")
	require.NoError(t, err)
	assert.Equal(t, []r3.Vector{{X: 1.5, Y: 2.5, Z: 3.5}}, p)

	_, warnings, err := ReadPoints(t.Context(), filepath.Join(dir, "nine.csv"))
	require.NoError(t, err)
	assert.Equal(t, []string{"The numbers were read with a comma for the decimal sign."}, warnings)

	_, err = read("nan.txt", "1 2 3\nnan 4 5\n")
	assert.ErrorContains(t, err, "point 2 is not a finite number")
	_, err = read("short.txt", "1 2 3\n1 2\n")
	assert.ErrorContains(t, err, "XYZ line 2: truncated")
	_, _, err = ReadPoints(t.Context(), filepath.Join(dir, "none.txt"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	_, _, err = ReadPoints(t.Context(), dir)
	assert.ErrorContains(t, err, "directory")

	for file, n := range map[string]int{
		"happly_platonic_shelf.ply": 50, "happly_platonic_shelf_big_endian.ply": 50,
		"numpystl_stl_tests_unix.stl": 60, "trimesh_20mm-xyz-cube.stl": 132, "trimesh_cube.OBJ": 8,
		"assimp_obj_point_cloud.obj": 3, "tinyply_icosahedron_ascii.ply": 12, "trimesh_BoxTextured.ply": 24,
	} {
		p, _, err := ReadPoints(t.Context(), filepath.Join(corpus, file))
		require.NoError(t, err, file)
		assert.Len(t, p, n, file)
	}
}

func TestNumber(t *testing.T) {
	for text, want := range map[string]float64{
		"0": 0, "-0": math.Copysign(0, -1), "1": 1, "+1.": 1, ".5": 0.5, "-.5e1": -5, "1e22": 1e22, "1e23": 1e23, "1E-22": 1e-22,
		"9007199254740993": 9007199254740993, "0.1": 0.1, "123456789012345678901234567890": 123456789012345678901234567890,
		"17.18517882314217": 17.18517882314217, "2.2250738585072011e-308": 2.2250738585072011e-308,
		"1e999": math.Inf(1), "-1e999": math.Inf(-1), "1e-999": 0, "1d3": 1000, "1.5D-3": 0.0015,
		"0.000000000000000000000000000000000000000000000000000000000000000000000000012345": 1.2345e-74,
	} {
		v, ok := number([]byte(text))
		require.True(t, ok, text)
		assert.Equal(t, math.Float64bits(want), math.Float64bits(v), "%s gives %v", text, v)
	}
	for _, text := range []string{"", "-", "+", ".", "e5", "1e", "1e+", "x", "--1", "-.", "nope"} {
		_, ok := number([]byte(text))
		assert.False(t, ok, text)
	}
	for _, text := range []string{"nan", "NaN", "-nan", "inf", "-Infinity", "nan(ind)"} {
		v, ok := number([]byte(text))
		assert.True(t, ok && math.IsNaN(v), text)
	}
}

// Numbers of any form come out as strconv has them, to the last bit.
func TestNumberAgreesWithStrconv(t *testing.T) {
	digits := rapid.StringMatching(`[0-9]{0,25}`)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom([]string{"", "-", "+"}).Draw(t, "sign") + digits.Draw(t, "whole") +
			rapid.SampledFrom([]string{"", "."}).Draw(t, "point") + digits.Draw(t, "fraction") +
			rapid.SampledFrom([]string{"", "e", "E-", "e+"}).Draw(t, "e")
		if c := text[max(0, len(text)-1):]; strings.ContainsAny(c, "eE+-") && len(text) > 1 {
			text += rapid.StringMatching(`[0-9]{1,3}`).Draw(t, "exponent")
		}
		want, err := strconv.ParseFloat(text, 64)
		v, ok := number([]byte(text))
		if err != nil && !errors.Is(err, strconv.ErrRange) {
			require.False(t, ok, text)
			return
		}
		require.True(t, ok, text)
		require.Equal(t, math.Float64bits(want), math.Float64bits(v), text)
	})
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Draw(t, "v")
		for _, form := range "efg" {
			got, _ := number(strconv.AppendFloat(nil, v, byte(form), -1, 64))
			require.Equal(t, v, got)
		}
	})
}
