package scanio

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// plyOrder appends numbers of a PLY type in a byte order.
type plyOrder struct {
	order binary.AppendByteOrder
	b     []byte
}

func (o *plyOrder) put(kind string, v float64) {
	switch kind {
	case "char", "uchar", "int8", "uint8":
		o.b = append(o.b, byte(int(v)))
	case "short", "ushort", "int16", "uint16":
		o.b = o.order.AppendUint16(o.b, uint16(int(v)))
	case "int", "uint", "int32", "uint32":
		o.b = o.order.AppendUint32(o.b, uint32(int64(v)))
	case "float", "float32":
		o.b = o.order.AppendUint32(o.b, math.Float32bits(float32(v)))
	case "int64", "uint64":
		o.b = o.order.AppendUint64(o.b, uint64(int64(v)))
	default:
		o.b = o.order.AppendUint64(o.b, math.Float64bits(v))
	}
}

// makePLY writes a tetrahedron with normals in a given form and with
// properties of given types, other elements and properties between.
func makePLY(form, coordinate, normal, count, index string, facesFirst bool) string {
	points := [][6]float64{{0, 0, 0, -1, 0, 0}, {3, 0, 0, 0, -1, 0}, {0, 4, 0, 0, 0, -1}, {0, 0, -5, 1, 0, 0}}
	faces := [][]float64{{0, 1, 2}, {0, 3, 1}, {1, 3, 2}, {2, 3, 0}}
	var head strings.Builder
	fmt.Fprintf(&head, "ply\nformat %s 1.0\ncomment made up\nobj_info none\nelement extra 2\nproperty float a\n", form)
	vertex := fmt.Sprintf("element vertex 4\nproperty %[2]s nz\nproperty %[1]s y\nproperty uchar red\nproperty %[1]s z\n"+
		"property %[2]s nx\nproperty %[1]s x\nproperty %[2]s ny\n", coordinate, normal)
	face := fmt.Sprintf("element face 4\nproperty short flag\nproperty list %s %s vertex_index\nproperty double area\n", count, index)
	if facesFirst {
		head.WriteString(face + vertex)
	} else {
		head.WriteString(vertex + face)
	}
	head.WriteString("element tail 1\nproperty list uchar float b\nproperty int c\nend_header\n")
	o := plyOrder{order: binary.LittleEndian}
	if form == "binary_big_endian" {
		o.order = binary.BigEndian
	}
	var text strings.Builder
	put := func(kind string, v float64) {
		o.put(kind, v)
		fmt.Fprintf(&text, "%v ", v)
	}
	line := func() { text.WriteString("\n") }
	put("float", 1)
	line()
	put("float", 2)
	line()
	vertices := func() {
		for _, p := range points {
			put(normal, p[5])
			put(coordinate, p[1])
			put("uchar", 200)
			put(coordinate, p[2])
			put(normal, p[3])
			put(coordinate, p[0])
			put(normal, p[4])
			line()
		}
	}
	if !facesFirst {
		vertices()
	}
	for _, f := range faces {
		put("short", -7)
		put(count, float64(len(f)))
		for _, v := range f {
			put(index, v)
		}
		put("double", 0.5)
		line()
	}
	if facesFirst {
		vertices()
	}
	put("uchar", 2)
	put("float", 1)
	put("float", 2)
	put("int", 3)
	line()
	if form == "ascii" {
		return head.String() + text.String()
	}
	return head.String() + string(o.b)
}

func TestPLYForms(t *testing.T) {
	var want *mesh.Scan
	for _, form := range []string{"ascii", "binary_little_endian", "binary_big_endian"} {
		for _, facesFirst := range []bool{false, true} {
			for _, types := range [][4]string{
				{"float", "float", "uchar", "int"}, {"double", "double", "uchar", "uint"}, {"float32", "float64", "uint8", "int32"},
				{"short", "char", "int", "ushort"}, {"int", "short", "short", "uchar"}, {"int16", "int8", "uint32", "uint16"},
				{"char", "float", "char", "char"}, {"int64", "int8", "uint64", "int64"},
			} {
				name := fmt.Sprint(form, facesFirst, types)
				file := makePLY(form, types[0], types[1], types[2], types[3], facesFirst)
				in := newInput(strings.NewReader(file), int64(len(file)), "t.ply")
				require.NoError(t, in.decode(t.Context(), Options{}))
				require.Equal(t, []mesh.Vec32{{-1, 0, 0}, {0, -1, 0}, {0, 0, -1}, {1, 0, 0}}, in.got.normals)
				s, err := readText(t, "t.ply", file, Options{Unit: mesh.Millimetre})
				require.NoError(t, err, name)
				checkScan(t, s)
				require.Equal(t, []string{"Elements of no use here were skipped: extra, tail."}, s.Warnings, name)
				if want == nil {
					want = s
					require.Equal(t, []r3.Vector{{}, {X: 3}, {Y: 4}, {Z: -5}}, cloudPoints(s))
					require.Nil(t, s.Normals, "those of a mesh come from its triangles")
					require.Equal(t, [][3]int32{{0, 1, 2}, {0, 3, 1}, {1, 3, 2}, {2, 3, 0}}, s.Triangles)
				}
				require.Equal(t, want, s, name)
			}
		}
	}
}

const plyPoints4 = "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"

func TestPLYPolygons(t *testing.T) {
	s, err := readText(t, "q.ply", plyPoints4+"element face 3\nproperty list uchar int vertex_indices\nend_header\n"+
		"0 0 0\n1 0 0\n1 1 0\n0 1 0\n4 0 1 2 3\n2 0 1\n0\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	assert.Equal(t, [][3]int32{{0, 1, 2}, {0, 2, 3}}, s.Triangles)
	assert.Equal(t, []string{"2 faces with fewer than three corners were skipped."}, s.Warnings)

	s, err = readText(t, "b.ply", plyPoints4+"element face 3\nproperty list uchar int vertex_indices\nend_header\n"+
		"0 0 0\n1 0 0\n1 1 0\n0 1 0\n3 0 1 2\n3 0 1 4\n3 -1 1 2\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	assert.Equal(t, mesh.Removed{Broken: 2}, s.Removed)
	assert.Equal(t, []string{"2 triangles of points that the file does not have were left out: if it is a cut copy, points are missing.",
		"1 point that no triangle uses was left out."}, s.Warnings)
}

// A seam doubles its points.
func TestPLYWeldsSeams(t *testing.T) {
	s, err := readText(t, "s.ply", "ply\nformat ascii 1.0\nelement vertex 6\nproperty float x\nproperty float y\nproperty float z\n"+
		"property float nx\nproperty float ny\nproperty float nz\nelement face 2\nproperty list uchar int vertex_indices\nend_header\n"+
		"0 0 0 0 0 1\n1 0 0 0 0 1\n0 1 0 0 0 1\n0 0 0 0 -1 0\n1 -0 0 0 -1 0\n0 0 -1 0 -1 0\n3 0 1 2\n3 4 3 5\n", Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	checkScan(t, s)
	assert.Equal(t, 4, s.Len())
	assert.Equal(t, 6, s.Source.Points)
	assert.Equal(t, [][3]int32{{0, 1, 2}, {1, 0, 3}}, s.Triangles)
	assert.Empty(t, s.Warnings)
}

func TestPLYErrors(t *testing.T) {
	body := "0 0 0\n1 0 0\n0 1 0\n1 1 0\n"
	binary3 := "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n" +
		"element face 1\nproperty list uchar int vertex_indices\nend_header\n" + strings.Repeat("\x00", 36)
	for _, c := range []struct {
		name, file, what string
		line             int
		truncated        bool
	}{
		{"no end of header", plyPoints4, "truncated: the header has no line end_header", 7, true},
		{"no format", strings.Replace(plyPoints4, "format ascii 1.0\n", "", 1) + "end_header\n" + body, "states no format", 1, false},
		{"unknown format", strings.Replace(plyPoints4, "ascii", "utf8", 1) + "end_header\n" + body, "unknown format", 2, false},
		{"unknown type", strings.Replace(plyPoints4, "float z", "real z", 1) + "end_header\n" + body, "unknown type", 6, false},
		{"unknown word", plyPoints4 + "proprety float q\nend_header\n" + body, "unknown header word", 7, false},
		{"no z", strings.Replace(plyPoints4, "property float z\n", "", 1) + "end_header\n0 0\n0 0\n0 0\n0 0\n", "no property z", 0, false},
		{"rows missing", plyPoints4 + "end_header\n" + body[:18], "truncated", 0, true},
		{"a column missing", plyPoints4 + "end_header\n0 0 0.0\n1 0\n0 1 0\n1 1 0\n", "element vertex 1: the line ends before property z", 9, false},
		{"a word for a number", plyPoints4 + "end_header\n0 0 0\n1 0 0\n0 l 0\n1 1 0\n", `property y is not a number of its kind: "l"`, 10, false},
		{"a column too many", plyPoints4 + "end_header\n0 0 0\n1 0 0 9\n0 1 0\n1 1 0\n", "more numbers than properties", 9, false},
		{"a face cut short", plyPoints4 + "element face 1\nproperty list uchar int vertex_indices\nend_header\n" + body + "4 0 1 2\n", "the line ends before property vertex_indices", 14, false},
		{"a wild count, text", strings.Replace(plyPoints4, "vertex 4", "vertex 4000000000000000000", 1) + "end_header\n" + body, "truncated: the header promises", 0, true},
		{"a wild count, binary", strings.Replace(binary3, "vertex 3", "vertex 2000000000", 1), "truncated: the header promises 2,000,000,000 vertex elements of 12 bytes", 0, true},
		{"a count below zero", strings.Replace(plyPoints4, "vertex 4", "vertex -4", 1) + "end_header\n" + body, "bad element count", 3, false},
		{"points cut short", binary3[:len(binary3)-4], "truncated", 0, true},
		{"faces missing", binary3, "truncated: the header promises 1 face element", 0, true},
		{"a face cut short, binary", binary3 + "\x03\x00\x00\x00\x00\x01\x00", "truncated: element face is cut short", 0, true},
		{"a wild list", strings.Replace(binary3, "list uchar", "list int", 1) + "\x00\x00\x00\x70\x00\x00\x00\x00", "states a list vertex_indices of 1879048192 numbers", 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readText(t, "part.ply", c.file, Options{})
			var bad *FormatError
			require.True(t, errors.As(err, &bad), "%v", err)
			assert.ErrorContains(t, err, c.what)
			assert.ErrorContains(t, err, "part.ply: PLY")
			assert.Equal(t, c.line, bad.Line, err.Error())
			assert.Equal(t, c.truncated, bad.Truncated)
		})
	}
}
