package scanio

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

const square = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"

func TestOBJForms(t *testing.T) {
	two := [][3]int32{{0, 1, 2}, {0, 2, 3}}
	for _, c := range []struct {
		name, file string
		triangles  [][3]int32
		normals    bool
		warnings   int
	}{
		{name: "polygon", file: square + "f 1 2 3 4\n", triangles: two},
		{name: "counted back", file: square + "f -4 -3 -2 -1\n", triangles: two},
		{name: "both ways of counting", file: square + "f 1 -3 3 -1\n", triangles: two},
		{name: "counted back between points", file: "v 0 0 0\nv 1 0 0\nv 1 1 0\nf -3 -2 -1\nv 0 1 0\nf -4 -2 -1\n", triangles: two},
		{name: "faces before points", file: "f 1 2 3\nf 1 3 4\n" + square, triangles: two},
		{name: "lines continued", file: "v 0 \\\n0 0\nv 1 0 0\nv 1 1 0\nv 0 1 \\\r\n 0\nf 1 2\\\n 3 \\\n4\n", triangles: two},
		{name: "weights and colours", file: "v 0 0 0 1\nv 1 0 0 0.5 0.5 0.5\nv 1 1 0 nan nan nan\nv 0 1 0 1 # red\nf 1 2 3 4\n", triangles: two},
		{name: "texture", file: square + "vt 0 0\nvt 1 1\nf 1/1 2/2 3/1 4/2\n", triangles: two},
		{name: "comments, groups, materials", file: "# c\nmtllib a.mtl\no part\ng a b\n" + square + "usemtl x\ns off\nf 1 2 3 4 # c\nl 1 2\np 1\n", triangles: two},
		{name: "normals", file: square + "vn 0 0 2\nf 1//1 2//1 3//1 4//1\n", triangles: two},
		{name: "normals and texture, counted back", file: square + "vt 0 0\nvn 1 0 0\nvn 0 0 1\nf 1/1/-1 2/1/-1 3/-1/2 4/1/2\n", triangles: two},
		{name: "unknown words", file: square + "wobble 1\nf 1 2 3 4\nwobble 2\n", triangles: two, warnings: 1},
		{name: "points only", file: square, warnings: 1},
		{name: "points with normals", file: "vn 0 0 1\nv 0 0 0\nvn 0 0 1\nv 1 0 0\nvn 0 0 1\nv 1 1 0\nvn 0 0 1\nv 0 1 0\n", normals: true, warnings: 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := readText(t, "p.obj", c.file, Options{Unit: mesh.Millimetre})
			require.NoError(t, err)
			checkScan(t, s)
			assert.Equal(t, "obj", s.Source.Format)
			assert.Equal(t, 4, s.Len())
			assert.Equal(t, c.triangles, s.Triangles)
			assert.Len(t, s.Warnings, c.warnings)
			if c.normals {
				assert.Equal(t, []mesh.Vec32{{0, 0, 1}, {0, 0, 1}, {0, 0, 1}, {0, 0, 1}}, s.Normals)
			} else {
				assert.Nil(t, s.Normals)
			}
		})
	}
}

func TestOBJDropsAndMaps(t *testing.T) {
	s, err := readText(t, "p.obj", square+"f 1 2 3\nf 0 1 2\nf 2 3 1\nf 9 1 2\nf 1 1 3\nf 1 -4 -1\nf 1 -99 2\nf 1 3 4\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	checkScan(t, s)
	assert.Equal(t, mesh.Removed{Broken: 3, ZeroArea: 2, Duplicate: 1}, s.Removed)
	assert.Equal(t, []int32{0, 7}, s.SourceIndex)
}

// A polygon that names few points many times does not take the memory of as
// many triangles, and its items are still counted one by one.
func TestOBJLongPolygon(t *testing.T) {
	s, err := readText(t, "p.obj", square+"f 1 2 3 4 1 2 3 4 1 2 3 4 1 2 3 4\nf 1 2 3\nf 2 4 3\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	checkScan(t, s)
	assert.Equal(t, 16, s.Source.Triangles)
	assert.Equal(t, [][3]int32{{0, 1, 2}, {0, 2, 3}, {1, 3, 2}}, s.Triangles)
	assert.Equal(t, []int32{0, 1, 15}, s.SourceIndex)
}

func TestOBJErrors(t *testing.T) {
	for _, c := range []struct {
		name, file, what string
		line             int
	}{
		{"a letter in a number", "v 0 0 0\nv 1 O 0\n", `not a number: "O"`, 2},
		{"a colour that is no number", square + "v 1 2 3 red\n", `not a number: "red"`, 5},
		{"a coordinate missing", square + "v 1 2\n", "three numbers are needed", 5},
		{"a corner that is none", square + "f 1 2 x\n", `not a corner of a face: "x"`, 5},
		{"a corner with a fraction", square + "f 1 2 3.5\n", "not a corner of a face", 5},
		{"a line continued, then wrong", "v 0 \\\n0 q\n", `not a number: "q"`, 2},
		{"no points", "o part\nvn 0 0 1\n", "no points", 0},
		{"a long polygon of one point", square + "f 1 1 1 1 1 1 1 1 1 1 1 1 1\n", "all 11 triangles are broken or without area", 0},
		{"only broken faces", square + "f 5 6 7\n", "all 1 triangle are broken", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readText(t, "part.obj", c.file, Options{})
			var bad *FormatError
			require.True(t, errors.As(err, &bad), "%v", err)
			assert.ErrorContains(t, err, c.what)
			assert.Equal(t, c.line, bad.Line, err.Error())
		})
	}
}
