package scanio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/hschendel/stl"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// waves returns a wavy sheet of n x n points, with triangles or not, in the
// order of its rows or shuffled.
func waves(n int, triangles, shuffled bool) *mesh.Scan {
	s := &mesh.Scan{Offsets: make([]mesh.Vec32, 0, n*n), Normals: make([]mesh.Vec32, 0, n*n)}
	for j := range n {
		for i := range n {
			x, y := 0.1*float64(i), 0.1*float64(j)
			s.Offsets = append(s.Offsets, mesh.Vec32{float32(x), float32(y), float32(5 * math.Sin(x/9) * math.Cos(y/7))})
			s.Normals = append(s.Normals, mesh.Vec32{0, 0, 1})
		}
	}
	if triangles {
		for j := range int32(n - 1) {
			for i := range int32(n - 1) {
				a := j*int32(n) + i
				s.Triangles = append(s.Triangles, [3]int32{a, a + 1, a + int32(n)},
					[3]int32{a + 1, a + int32(n) + 1, a + int32(n)})
			}
		}
	}
	if shuffled {
		rng := rand.New(rand.NewPCG(1, 2))
		rng.Shuffle(len(s.Triangles), func(i, j int) { s.Triangles[i], s.Triangles[j] = s.Triangles[j], s.Triangles[i] })
	}
	return s
}

func written(tb testing.TB, s *mesh.Scan, write func(io.Writer, *mesh.Scan) error) []byte {
	var b bytes.Buffer
	require.NoError(tb, write(&b, s))
	return b.Bytes()
}

func appendFloat32s(b []byte, v mesh.Vec32) []byte {
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	return b
}

// floatPLY writes points and normals in single precision, as scanners do.
func floatPLY(w io.Writer, s *mesh.Scan) error {
	b := fmt.Appendf(nil, "ply\nformat binary_little_endian 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n"+
		"property float nx\nproperty float ny\nproperty float nz\nelement face %d\nproperty list uchar int vertex_indices\nend_header\n", s.Len(), len(s.Triangles))
	for i, o := range s.Offsets {
		b = appendFloat32s(b, o)
		b = appendFloat32s(b, s.Normals[i])
	}
	for _, t := range s.Triangles {
		b = append(b, 3)
		for _, v := range t {
			b = binary.LittleEndian.AppendUint32(b, uint32(v))
		}
	}
	_, err := w.Write(b)
	return err
}

// fixedXYZ writes points, and normals if asked for, with six decimals, as
// most programs do.
func fixedXYZ(normals bool) func(w io.Writer, s *mesh.Scan) error {
	return func(w io.Writer, s *mesh.Scan) error {
		var b []byte
		for i, o := range s.Offsets {
			b = fmt.Appendf(b, "%.6f %.6f %.6f", o[0], o[1], o[2])
			if normals {
				n := s.Normals[i]
				b = fmt.Appendf(b, " %.6f %.6f %.6f", n[0], n[1], n[2])
			}
			b = append(b, '\n')
		}
		_, err := w.Write(b)
		return err
	}
}

func textSTL(w io.Writer, s *mesh.Scan) error {
	b := []byte("solid wavy\n")
	for _, t := range s.Triangles {
		b = append(b, "  facet normal 0.000000e+00 0.000000e+00 1.000000e+00\n    outer loop\n"...)
		for _, v := range t {
			o := s.Offsets[v]
			b = fmt.Appendf(b, "      vertex %.6e %.6e %.6e\n", o[0], o[1], o[2])
		}
		b = append(b, "    endloop\n  endfacet\n"...)
	}
	b = append(b, "endsolid wavy\n"...)
	_, err := w.Write(b)
	return err
}

func textPLY(w io.Writer, s *mesh.Scan) error {
	b := fmt.Appendf(nil, "ply\nformat ascii 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n"+
		"element face %d\nproperty list uchar int vertex_indices\nend_header\n", s.Len(), len(s.Triangles))
	for _, o := range s.Offsets {
		b = fmt.Appendf(b, "%.6f %.6f %.6f\n", o[0], o[1], o[2])
	}
	for _, t := range s.Triangles {
		b = fmt.Appendf(b, "3 %d %d %d\n", t[0], t[1], t[2])
	}
	_, err := w.Write(b)
	return err
}

// xyzText and objText write all digits, and normals if known.
func xyzText(w io.Writer, s *mesh.Scan) error {
	b := []byte("# unit: mm\n")
	for i := range s.Len() {
		p := s.Point(i)
		b = fmt.Appendf(b, "%v %v %v", p.X, p.Y, p.Z)
		if s.Normals != nil {
			n := s.Normals[i]
			b = fmt.Appendf(b, " %v %v %v", n[0], n[1], n[2])
		}
		b = append(b, '\n')
	}
	_, err := w.Write(b)
	return err
}

func objText(w io.Writer, s *mesh.Scan) error {
	b := []byte("# unit: mm\n")
	for i := range s.Len() {
		p := s.Point(i)
		b = fmt.Appendf(b, "v %v %v %v\n", p.X, p.Y, p.Z)
		if s.Normals != nil {
			n := s.Normals[i]
			b = fmt.Appendf(b, "vn %v %v %v\n", n[0], n[1], n[2])
		}
	}
	for _, t := range s.Triangles {
		b = append(b, 'f')
		for _, v := range t {
			if b = fmt.Appendf(b, " %d", v+1); s.Normals != nil {
				b = fmt.Appendf(b, "//%d", v+1)
			}
		}
		b = append(b, '\n')
	}
	_, err := w.Write(b)
	return err
}

func fixedOBJ(w io.Writer, s *mesh.Scan) error {
	var b []byte
	for _, o := range s.Offsets {
		b = fmt.Appendf(b, "v %.6f %.6f %.6f\n", o[0], o[1], o[2])
	}
	for _, t := range s.Triangles {
		b = fmt.Appendf(b, "f %d %d %d\n", t[0]+1, t[1]+1, t[2]+1)
	}
	_, err := w.Write(b)
	return err
}

// perItem times f and reports nanoseconds and allocated bytes an item.
func perItem(b *testing.B, items int, f func() error) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for b.Loop() {
		if err := f(); err != nil {
			b.Fatal(err)
		}
	}
	runtime.ReadMemStats(&after)
	n := float64(b.N) * float64(items)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/n, "ns/item")
	b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/n, "B/item")
}

// BenchmarkRead reports time and memory a point or triangle of the file, and
// the text or binary taken in a second, on all cores and on one.
func BenchmarkRead(b *testing.B) {
	for _, c := range []struct {
		name  string
		scan  *mesh.Scan
		write func(io.Writer, *mesh.Scan) error
	}{
		{"STL/3M", waves(1226, true, false), WriteSTL},
		{"STL/3M-shuffled", waves(1226, true, true), WriteSTL},
		{"STL-text/500k", waves(501, true, false), textSTL},
		{"PLY/1M-points", waves(1000, false, false), floatPLY},
		{"PLY/2M-triangles", waves(1000, true, false), floatPLY},
		{"PLY-text/500k", waves(501, true, false), textPLY},
		{"OBJ/500k", waves(501, true, false), fixedOBJ},
		{"XYZ/1M", waves(1000, false, false), fixedXYZ(false)},
		{"XYZ/1M-normals", waves(1000, false, false), fixedXYZ(true)},
		{"XYZ/1M-17-digits", waves(1000, false, false), xyzText},
	} {
		file := written(b, c.scan, c.write)
		items := max(len(c.scan.Triangles), c.scan.Len())
		for _, jobs := range []int{0, 1} {
			name := c.name + "/all-cores"
			if jobs == 1 {
				name = c.name + "/one-core"
			}
			b.Run(name, func(b *testing.B) {
				b.SetBytes(int64(len(file)))
				perItem(b, items, func() error {
					_, err := ReadFrom(b.Context(), bytes.NewReader(file), int64(len(file)), "", Options{Jobs: jobs})
					return err
				})
			})
		}
	}
}

// counter is a stl.Writer that keeps nothing.
type counter struct{ n int }

func (c *counter) SetName(string)              {}
func (c *counter) SetBinaryHeader([]byte)      {}
func (c *counter) SetASCII(bool)               {}
func (c *counter) SetTriangleCount(uint32)     {}
func (c *counter) AppendTriangle(stl.Triangle) { c.n++ }

// BenchmarkReadSTLLibrary times the decoding alone, nothing kept or welded,
// by github.com/hschendel/stl: the reason why the reader here is its own.
func BenchmarkReadSTLLibrary(b *testing.B) {
	for _, c := range []struct {
		name  string
		write func(io.Writer, *mesh.Scan) error
	}{{"binary", WriteSTL}, {"text", textSTL}} {
		file := written(b, waves(501, true, false), c.write)
		b.Run(c.name, func(b *testing.B) {
			b.SetBytes(int64(len(file)))
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				var c counter
				if err := stl.CopyAll(bytes.NewReader(file), &c); err != nil {
					b.Fatal(err)
				}
				n = c.n
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/item")
		})
	}
}
