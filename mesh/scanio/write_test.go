package scanio

import (
	"bytes"
	"errors"
	"io"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/hschendel/stl"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// What is written reads back as it was, to double precision, or to the single
// precision of STL.
func TestWriteAndReadBack(t *testing.T) {
	made := waves(40, true, true)
	made.Origin = r3.Vector{X: 1234.5678, Y: -0.1, Z: 1.0 / 3}
	cloud := waves(30, false, false)
	cloud.Origin = made.Origin
	bare := waves(10, true, false)
	bare.Normals = nil
	for _, s := range []*mesh.Scan{made, cloud, bare} {
		for name, write := range map[string]func(io.Writer, *mesh.Scan) error{
			"a.ply": writePLY, "a.obj": objText, "a.xyz": xyzText, "a.stl": WriteSTL,
		} {
			if name == "a.stl" && !s.IsMesh() {
				continue
			}
			got, err := readBytes(t, written(t, s, write), name, blockSize, Options{})
			require.NoError(t, err, name)
			checkScan(t, got)
			assert.Equal(t, mesh.Millimetre, got.Source.Unit)
			assert.Equal(t, mesh.UnitFile, got.Source.UnitSource)
			want, near := s, 1e-5 // single precision offsets from another origin
			if name == "a.stl" {
				near = 2e-4 // single precision from zero
			}
			if name == "a.xyz" {
				require.False(t, got.IsMesh())
			} else {
				require.Len(t, got.Triangles, len(want.Triangles))
			}
			require.Equal(t, want.Len(), got.Len(), name)
			if name == "a.stl" {
				f, g := cornersOf(want), cornersOf(got)
				for i := range f {
					for k := range 3 {
						require.LessOrEqual(t, f[i][k].Distance(g[i][k]), near)
					}
				}
				continue
			}
			for i := range want.Len() {
				if d := want.Point(i).Distance(got.Point(i)); d > near {
					t.Fatalf("%s: point %d is off by %g", name, i, d)
				}
			}
			if got.IsMesh() {
				assert.Equal(t, want.Triangles, got.Triangles, name)
			} else if !want.IsMesh() {
				assert.Equal(t, want.Normals, got.Normals, name)
			}
		}
	}
}

// Double precision survives text and PLY: ReadPoints gives the very numbers.
func TestWriteKeepsDoublePrecision(t *testing.T) {
	s := waves(12, false, false)
	s.Origin = r3.Vector{X: 1e6 + 1.0/3, Y: -1e-3, Z: 0.1}
	for _, write := range []func(io.Writer, *mesh.Scan) error{writePLY, objText, xyzText} {
		file := written(t, s, write)
		in := newInput(bytes.NewReader(file), int64(len(file)), "")
		require.NoError(t, in.decode(t.Context(), Options{}))
		pts, err := in.points()
		require.NoError(t, err)
		assert.Equal(t, cloudPoints(s), pts)
	}
}

func TestWriteSTLForLibrary(t *testing.T) {
	s := waves(5, true, false)
	solid, err := stl.ReadAll(bytes.NewReader(written(t, s, WriteSTL)))
	require.NoError(t, err)
	require.Len(t, solid.Triangles, len(s.Triangles))
	for i, tri := range solid.Triangles {
		for k, v := range tri.Vertices {
			assert.Equal(t, s.Offsets[s.Triangles[i][k]], mesh.Vec32(v))
		}
		c := cornersOf(s)[i]
		n := c[1].Sub(c[0]).Cross(c[2].Sub(c[0])).Normalize()
		assert.InDelta(t, 1, n.Dot(mesh.Vec32(tri.Normal).R3()), 1e-6)
	}
}

func TestWriteErrors(t *testing.T) {
	assert.ErrorIs(t, WriteSTL(io.Discard, waves(2, false, false)), ErrNoTriangles)
	full := errors.New("disk full")
	for _, write := range []func(io.Writer, *mesh.Scan) error{WriteSTL, writePLY, objText, xyzText} {
		assert.ErrorIs(t, write(failing{full}, waves(100, true, false)), full)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }
