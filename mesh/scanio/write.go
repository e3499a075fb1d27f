package scanio

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/golang/geo/r3"
	"github.com/hschendel/stl"

	"spotface/mesh"
)

// ErrNoTriangles is returned where a cloud is written to a format that holds
// triangles only.
var ErrNoTriangles = errors.New("write STL: the scan has no triangles: write PLY")

// WriteSTL writes a mesh as binary STL, in millimetres, with facet normals
// from the corners. Coordinates are rounded to single precision, as the
// format has it, so a part far from zero loses digits.
func WriteSTL(w io.Writer, s *mesh.Scan) error {
	if !s.IsMesh() {
		return ErrNoTriangles
	}
	// A reader takes a header that starts with "solid" for text.
	solid := stl.Solid{Name: "binary STL, unit: mm", Triangles: make([]stl.Triangle,
		len(s.Triangles))}
	vec := func(v r3.Vector) stl.Vec3 { return stl.Vec3{float32(v.X), float32(v.Y), float32(v.Z)} }
	for i, t := range s.Triangles {
		a, b, c := s.Point(int(t[0])), s.Point(int(t[1])), s.Point(int(t[2]))
		solid.Triangles[i] = stl.Triangle{Normal: vec(b.Sub(a).Cross(c.Sub(a)).Normalize()),
			Vertices: [3]stl.Vec3{vec(a), vec(b), vec(c)}}
	}
	buf := bufio.NewWriterSize(w, writeBuffer)
	if err := solid.WriteAll(buf); err != nil {
		return err
	}
	return buf.Flush()
}

// Property is what a PLY file holds of each point beside its place.
type Property struct {
	Declare string                             // lines of the header
	Append  func(row []byte, point int) []byte // adds the values, little-endian
}

// WritePLY writes a scan as binary PLY, little-endian, in millimetres:
// coordinates in double precision, normals if known, more properties of the points if
// given, triangles if any.
func WritePLY(w io.Writer, s *mesh.Scan, more ...Property) error {
	buf := bufio.NewWriterSize(w, writeBuffer) // which keeps the first error
	fmt.Fprintf(buf, "ply\nformat binary_little_endian 1.0\ncomment unit: mm\nelement vertex %d\n"+
		"property double x\nproperty double y\nproperty double z\n", s.Len())
	if s.Normals != nil {
		buf.WriteString("property float nx\nproperty float ny\nproperty float nz\n")
	}
	for _, p := range more {
		buf.WriteString(p.Declare)
	}
	if s.IsMesh() {
		fmt.Fprintf(buf, "element face %d\nproperty list uchar int vertex_indices\n", len(s.Triangles))
	}
	buf.WriteString("end_header\n")
	le := binary.LittleEndian
	for i := range s.Len() {
		row, p := buf.AvailableBuffer(), s.Point(i)
		for _, x := range [3]float64{p.X, p.Y, p.Z} {
			row = le.AppendUint64(row, math.Float64bits(x))
		}
		if s.Normals != nil {
			for _, x := range s.Normals[i] {
				row = le.AppendUint32(row, math.Float32bits(x))
			}
		}
		for _, p := range more {
			row = p.Append(row, i)
		}
		buf.Write(row)
	}
	for _, t := range s.Triangles {
		row := append(buf.AvailableBuffer(), 3)
		for _, v := range t {
			row = le.AppendUint32(row, uint32(v))
		}
		buf.Write(row)
	}
	return buf.Flush()
}
