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

// writeBuffer is how much is formatted before it goes to the writer.
const writeBuffer = 1 << 16

// WritePLY writes a scan as binary PLY, little-endian, in millimetres:
// coordinates in double precision, normals if known, triangles if any.
func WritePLY(w io.Writer, s *mesh.Scan) error {
	buf := make([]byte, 0, writeBuffer)
	buf = fmt.Appendf(buf, "ply\nformat binary_little_endian 1.0\ncomment unit: mm\n"+
		"element vertex %d\n"+
		"property double x\nproperty double y\nproperty double z\n", s.Len())
	if s.Normals != nil {
		buf = append(buf, "property float nx\nproperty float ny\nproperty float nz\n"...)
	}
	if s.IsMesh() {
		buf = fmt.Appendf(buf, "element face %d\nproperty list uchar int vertex_indices\n",
			len(s.Triangles))
	}
	buf = append(buf, "end_header\n"...)
	flush := func() error {
		if len(buf) < writeBuffer-64 {
			return nil
		}
		_, err := w.Write(buf)
		buf = buf[:0]
		return err
	}
	for i := range s.Len() {
		p := s.Point(i)
		for _, x := range [3]float64{p.X, p.Y, p.Z} {
			buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(x))
		}
		if s.Normals != nil {
			buf = appendFloat32s(buf, s.Normal(i))
		}
		if err := flush(); err != nil {
			return err
		}
	}
	for _, t := range s.Triangles {
		buf = append(buf, 3)
		for _, v := range t {
			buf = binary.LittleEndian.AppendUint32(buf, uint32(v))
		}
		if err := flush(); err != nil {
			return err
		}
	}
	_, err := w.Write(buf)
	return err
}

func appendFloat32s(buf []byte, v r3.Vector) []byte {
	for _, x := range [3]float64{v.X, v.Y, v.Z} {
		buf = binary.LittleEndian.AppendUint32(buf, math.Float32bits(float32(x)))
	}
	return buf
}
