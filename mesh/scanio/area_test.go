package scanio

import (
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// The same triangles are flat in every format and unit: those that are flat
// by the file's own numbers, and not those that single precision makes so.
func TestZeroAreaInEveryFormat(t *testing.T) {
	s := &mesh.Scan{Offsets: []mesh.Vec32{{0.1, 0.2, 0.3}, {50.25, 0, 0}, {0, 40.75, 0}, {30.1, 30.1, 0},
		{0.3, 0.3, 0.3}, {0.6, 0.6, 0.6}, {1.2, 1.2, 1.2}, // on a line in single precision: each twice the last
		{50.25, 1e-5, 0}, {120.5, 200, 7}},
		Triangles: [][3]int32{{0, 1, 2}, {1, 3, 2}, {4, 5, 6}, {1, 7, 3}, {8, 1, 3}}}
	s.Normals = make([]mesh.Vec32, s.Len())
	for name, write := range map[string]func(io.Writer, *mesh.Scan) error{
		"binary.stl": WriteSTL, "float.ply": floatPLY, "double.ply": writePLY, "a.obj": objText,
	} {
		for _, unit := range []mesh.Unit{mesh.Millimetre, mesh.Inch, mesh.Foot} {
			got, err := readBytes(t, written(t, s, write), name, blockSize, Options{Unit: unit})
			require.NoError(t, err)
			checkScan(t, got)
			assert.Equal(t, mesh.Removed{ZeroArea: 1}, got.Removed, "%s in %s", name, unit)
			assert.Equal(t, []int32{0, 1, 3, 4}, got.SourceIndex)
		}
	}
}
