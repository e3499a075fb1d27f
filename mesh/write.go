package mesh

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/golang/geo/r3"
)

// ErrNoTriangles is returned where a cloud is written to a format that holds
// triangles only.
var ErrNoTriangles = errors.New("write STL: the scan has no triangles: write PLY, OBJ or XYZ")

// writeBuffer is how much is formatted before it goes to the writer.
const writeBuffer = 1 << 16

// WriteSTL writes a mesh as binary STL, in millimetres, with facet normals
// from the corners. Coordinates are rounded to single precision, as the
// format has it, so a part far from zero loses digits.
func WriteSTL(w io.Writer, s *Scan) error {
	if !s.IsMesh() {
		return ErrNoTriangles
	}
	if uint64(len(s.Triangles)) > math.MaxUint32 {
		return fmt.Errorf("write STL: %d triangles, the format holds %d", len(s.Triangles), uint32(math.MaxUint32))
	}
	buf := make([]byte, 0, writeBuffer)
	// A reader takes a header that starts with "solid" for text.
	buf = append(buf, "binary STL, unit: mm"...)
	buf = append(buf, make([]byte, 80-len(buf))...)
	buf = binary.LittleEndian.AppendUint32(buf, uint32(len(s.Triangles)))
	for _, t := range s.Triangles {
		a, b, c := s.Point(int(t[0])), s.Point(int(t[1])), s.Point(int(t[2]))
		for _, v := range [4]r3.Vector{b.Sub(a).Cross(c.Sub(a)).Normalize(), a, b, c} {
			buf = appendFloat32s(buf, v)
		}
		buf = append(buf, 0, 0)
		if len(buf) > writeBuffer-stlFacet {
			if _, err := w.Write(buf); err != nil {
				return err
			}
			buf = buf[:0]
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

// PLYOptions says what to write into a PLY file beside points, normals and
// triangles. The zero value works.
type PLYOptions struct {
	// Label, if not nil, holds a number for each point, written as its
	// property "label".
	Label []int32
}

// WritePLY writes a scan as binary PLY, little-endian, in millimetres:
// coordinates in double precision, normals if known, triangles if any.
func WritePLY(w io.Writer, s *Scan, opt PLYOptions) error {
	if opt.Label != nil && len(opt.Label) != s.Len() {
		return fmt.Errorf("write PLY: %d labels for %d points", len(opt.Label), s.Len())
	}
	buf := make([]byte, 0, writeBuffer)
	buf = fmt.Appendf(buf, "ply\nformat binary_little_endian 1.0\ncomment unit: mm\nelement vertex %d\n"+
		"property double x\nproperty double y\nproperty double z\n", s.Len())
	if s.Normals != nil {
		buf = append(buf, "property float nx\nproperty float ny\nproperty float nz\n"...)
	}
	if opt.Label != nil {
		buf = append(buf, "property int label\n"...)
	}
	if s.IsMesh() {
		buf = fmt.Appendf(buf, "element face %d\nproperty list uchar int vertex_indices\n", len(s.Triangles))
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
		if opt.Label != nil {
			buf = binary.LittleEndian.AppendUint32(buf, uint32(opt.Label[i]))
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

// WriteOBJ writes a scan as OBJ, in millimetres, with normals if known.
func WriteOBJ(w io.Writer, s *Scan) error {
	b := bufio.NewWriterSize(w, writeBuffer)
	var line []byte
	b.WriteString("# unit: mm\n")
	for i := range s.Len() {
		line = s.appendPoint(append(line[:0], "v "...), i, ' ')
		b.Write(append(line, '\n'))
		if s.Normals != nil {
			line = s.appendNormal(append(line[:0], "vn"...), i, ' ')
			b.Write(append(line, '\n'))
		}
	}
	for _, t := range s.Triangles {
		line = append(line[:0], 'f')
		for _, v := range t {
			line = strconv.AppendInt(append(line, ' '), int64(v)+1, 10)
			if s.Normals != nil {
				line = strconv.AppendInt(append(line, '/', '/'), int64(v)+1, 10)
			}
		}
		b.Write(append(line, '\n'))
	}
	return b.Flush()
}

// WriteXYZ writes the points of a scan as text, in millimetres: a comment
// that states the unit, then a line a point, with the normal behind it if
// known.
func WriteXYZ(w io.Writer, s *Scan) error {
	b := bufio.NewWriterSize(w, writeBuffer)
	b.WriteString("# unit: mm\n")
	var line []byte
	for i := range s.Len() {
		line = s.appendPoint(line[:0], i, ' ')
		if s.Normals != nil {
			line = s.appendNormal(line, i, ' ')
		}
		b.Write(append(line, '\n'))
	}
	return b.Flush()
}

// appendPoint appends the coordinates of point i, each in the fewest digits
// that give the same double precision number back.
func (s *Scan) appendPoint(line []byte, i int, sep byte) []byte {
	p := s.Point(i)
	for k, x := range [3]float64{p.X, p.Y, p.Z} {
		if k > 0 {
			line = append(line, sep)
		}
		line = strconv.AppendFloat(line, x, 'g', -1, 64)
	}
	return line
}

func (s *Scan) appendNormal(line []byte, i int, sep byte) []byte {
	n := s.Normals[i]
	for _, x := range n {
		line = strconv.AppendFloat(append(line, sep), float64(x), 'g', -1, 32)
	}
	return line
}
