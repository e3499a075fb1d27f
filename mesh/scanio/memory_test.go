package scanio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"

	"spotface/mesh"
)

// Files made to take much memory: wild counts, the shortest lines there are,
// points and triangles all the same, polygons of one-byte numbers. checkRead
// holds what is taken against the file's size.
func TestReadTakesNoMoreMemoryThanTheFileWarrants(t *testing.T) {
	size := 1 << 20
	if testing.Short() {
		size = 1 << 19
	}
	fill := func(head, unit string) []byte {
		return append([]byte(head), bytes.Repeat([]byte(unit), (size-len(head))/len(unit))...)
	}
	text := func(head, unit string, n int) []byte {
		return []byte(head + strings.Repeat(unit, n))
	}
	many := size / 10
	var distinct bytes.Buffer
	for i := range size / 8 {
		fmt.Fprintf(&distinct, "%d %d 1\n", i%1000, i/1000)
	}
	var square bytes.Buffer // points of a grid for faces with short numbers
	for i := range 90 {
		fmt.Fprintf(&square, "v %d %d 0\n", i%9, i/9)
	}
	stlSame := make([]byte, 84, size)
	for len(stlSame)+50 <= size {
		stlSame = append(stlSame, make([]byte, 50)...)
	}
	binary.LittleEndian.PutUint32(stlSame[80:], uint32((len(stlSame)-84)/50))
	stlWild := bytes.Clone(stlSame)
	for i := 84; i+4 <= len(stlWild); i += 4 {
		binary.LittleEndian.PutUint32(stlWild[i:], math.Float32bits(float32(i)))
	}
	binaryPLY := func(vertices, faces int, count, index string) string {
		return fmt.Sprintf("ply\nformat binary_little_endian 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n"+
			"element face %d\nproperty list %s %s vertex_indices\nend_header\n", vertices, faces, count, index)
	}
	var points bytes.Buffer
	for i := range size / 12 {
		points.Write(appendFloat32s(nil, mesh.Vec32{float32(i), float32(i % 7), 0}))
	}
	for name, file := range map[string][]byte{
		"a.xyz lines of a byte":        fill("1 2 3\n", "\n"),
		"b.xyz shortest points":        fill("", "1 1 1\n"),
		"c.xyz distinct points":        distinct.Bytes(),
		"d.xyz no line end":            fill("1 2 3 ", "4"),
		"e.xyz one long comment":       fill("#", " "),
		"f.csv empty fields":           fill("x,y,z\n", ",,\n"),
		"g.obj points":                 fill("", "v 1 1 1\n"),
		"h.obj faces":                  fill(square.String(), "f 1 2 3\n"),
		"i.obj a polygon":              fill(square.String()+"f", " 1 2 12 13 35"),
		"j.obj polygons":               fill(square.String(), "f 1 2 3 12 13 14 15\n"),
		"k.obj counted back":           fill(square.String(), "f -1 -2 -9\n"),
		"l.obj continued lines":        fill("v 1 1 1", "\\\n"),
		"m.stl facets":                 fill("solid x\n", "facet vertex 0 0 0 vertex 1 0 0 vertex 0 1 0 endfacet\n"),
		"n.stl vertices alone":         fill("solid x\nfacet\n", "vertex 1 1 1\n"),
		"o.stl all the same":           stlSame,
		"p.stl all different":          stlWild,
		"q.ply text points":            text(fmt.Sprintf("ply\nformat ascii 1.0\nelement vertex %d\nproperty char x\nproperty char y\nproperty char z\nend_header\n", many), "1 1 1\n", many),
		"r.ply text, wild count":       text("ply\nformat ascii 1.0\nelement vertex 999999999\nproperty char x\nproperty char y\nproperty char z\nend_header\n", "1 1 1\n", many),
		"s.ply points":                 append([]byte(binaryPLY(points.Len()/12, 0, "uchar", "int")), points.Bytes()...),
		"t.ply points all the same":    append([]byte(binaryPLY(size/12, 0, "uchar", "int")), make([]byte, size)...),
		"u.ply triangles":              append([]byte(binaryPLY(size/24, size/26, "uchar", "int")), append(points.Bytes()[:size/24*12:size/24*12], bytes.Repeat([]byte("\x03\x00\x00\x00\x00\x01\x00\x00\x00\x02\x00\x00\x00"), size/26)...)...),
		"v.ply polygons":               append([]byte(binaryPLY(90, size/17, "uchar", "int")), append(points.Bytes()[:90*12:90*12], bytes.Repeat([]byte("\x04\x00\x00\x00\x00\x01\x00\x00\x00\x0c\x00\x00\x00\x02\x00\x00\x00"), size/17)...)...),
		"w.ply a polygon of all bytes": append([]byte(binaryPLY(3, 1, "int", "uchar")), append(points.Bytes()[:36:36], append([]byte{0, 0, 0x30, 0}, bytes.Repeat([]byte("\x00\x01\x02"), 1<<20)...)...)...),
	} {
		t.Run(name, func(t *testing.T) { checkRead(t, file, name[:5]) })
	}
}
