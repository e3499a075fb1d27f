package scanio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// A program is no STL, whatever its name and the number at byte 80.
func TestProgramsAreRefused(t *testing.T) {
	for _, magic := range []string{"\x7fELF\x02\x01", "MZ\x90\x00", "\xcf\xfa\xed\xfe", "\xca\xfe\xba\xbe"} {
		file := append([]byte(magic), make([]byte, 5000)...)
		binary.LittleEndian.PutUint32(file[80:], 3)
		for _, name := range []string{"tool.stl", "tool", "tool.ply"} {
			_, err := readBytes(t, file, name, blockSize, Options{})
			assert.ErrorContains(t, err, "this is a program", "%q as %s", magic, name)
		}
	}
	// Nor is other data that leaves most of the file unexplained.
	file := append(bytes.Repeat([]byte{1}, 80), make([]byte, 5000)...)
	binary.LittleEndian.PutUint32(file[80:], 3)
	_, err := readBytes(t, file, "part.stl", blockSize, Options{})
	assert.ErrorContains(t, err, "the header states 3 facets, but 4,846 bytes follow them")
}

// A cut copy of a text file is refused or warned of wherever it ends inside a
// line; an OBJ also where it ends before its faces.
func TestCutCopiesAreNoticed(t *testing.T) {
	s := waves(4, true, false)
	for name, file := range map[string][]byte{
		"a.obj": written(t, s, objText), "a.xyz": written(t, s, fixedXYZ(true)), "a.ply": written(t, s, textPLY), "a.stl": written(t, s, textSTL),
	} {
		whole, err := readBytes(t, file, name, blockSize, Options{Unit: mesh.Millimetre})
		require.NoError(t, err)
		require.Empty(t, whole.Warnings, name)
		faces := bytes.Index(file, []byte("\nf "))
		for n := range file {
			got, err := readBytes(t, file[:n], name, blockSize, Options{Unit: mesh.Millimetre})
			if err != nil || n > 0 && file[n-1] == '\n' && (name == "a.xyz" || name == "a.obj" && n > faces+1) ||
				name == "a.stl" && bytes.Contains(file[:n], []byte("endsolid")) {
				continue // such a file may be whole
			}
			assert.NotEmpty(t, got.Warnings, "%s cut behind %q", name, file[max(0, n-30):n])
		}
	}
}

func TestFarFromZeroInSinglePrecision(t *testing.T) {
	s := waves(30, true, false)
	for _, c := range []struct {
		far  float64
		warn string
	}{{0, ""}, {1e4, ""}, {1e6, "steps are 0.062 mm"}, {1e7, "steps are 1 mm"}} {
		s.Origin = r3.Vector{X: c.far}
		for name, file := range map[string][]byte{"a.stl": written(t, s, WriteSTL), "a.ply": written(t, s, writePLY)} {
			got, err := readBytes(t, file, name, blockSize, Options{Unit: mesh.Millimetre})
			if c.warn == "" || name == "a.ply" { // double precision
				require.NoError(t, err)
				assert.Empty(t, got.Warnings, "%s at %g", name, c.far)
				continue
			}
			require.NoError(t, err)
			assert.Contains(t, strings.Join(got.Warnings, " "), c.warn)
			assert.Contains(t, strings.Join(got.Warnings, " "), "finer shape is lost")
		}
	}
	// In inches, the same numbers are 25.4 times as coarse.
	s.Origin = r3.Vector{X: 5e4}
	got, err := readBytes(t, written(t, s, WriteSTL), "a.stl", blockSize, Options{Unit: mesh.Inch})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(got.Warnings, " "), "about 1.27e+06 mm from zero, where their steps are 0.099 mm")
}

// A part that is smaller than the steps is refused with the reason.
func TestNothingLeftOfSinglePrecision(t *testing.T) {
	s := waves(3, true, false)
	s.Origin = r3.Vector{X: 1e8, Y: 1e8, Z: 1e8}
	_, err := readBytes(t, written(t, s, WriteSTL), "a.stl", blockSize, Options{Unit: mesh.Millimetre})
	require.ErrorContains(t, err, "without area: numbers are in single precision and about 1e+08 mm from zero")
	require.ErrorContains(t, err, moveNearZero)
}

// One stray point says nothing about the unit.
func TestStrayPointsRaiseNoHint(t *testing.T) {
	file := fixedXYZ(false)
	var b bytes.Buffer
	require.NoError(t, file(&b, waves(200, false, false)))
	b.WriteString("1000000 0 0\n")
	got, err := readBytes(t, b.Bytes(), "a.xyz", blockSize, Options{})
	require.NoError(t, err)
	assert.Empty(t, got.Warnings)
}

// What a file has for a name is printed without its control characters.
func TestErrorsArePrintable(t *testing.T) {
	for _, file := range []string{
		"ply\nformat ascii 1.0\nelement ver\x00tex 9000000\nproperty float a\nend_header\n",
		"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nproperty float \x1b[31m\nend_header\n1 2 3\n",
	} {
		_, err := readBytes(t, []byte(file), "a.ply", blockSize, Options{})
		require.Error(t, err)
		assert.NotContains(t, err.Error(), "\x00")
		assert.NotContains(t, err.Error(), "\x1b")
	}
}

func TestOneFaceWasSkipped(t *testing.T) {
	got, err := readBytes(t, []byte(square+"f 1 2\nf 1 2 3\n"), "a.obj", blockSize, Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	assert.Equal(t, "1 face with fewer than three corners was skipped.", got.Warnings[0])
}

// A line that is far too long is refused before it is all in memory.
func TestLongLines(t *testing.T) {
	for name, file := range map[string]string{
		"a.xyz": "1 2 3\n4 5 6 " + strings.Repeat("7", maxRow+maxRow/4),
		"a.obj": square + "f 1 2 3\n#" + strings.Repeat(" ", maxRow+maxRow/4),
		"a.ply": plyPoints4 + "end_header\n0 0 0\n1 0 " + strings.Repeat(" ", maxRow+maxRow/4),
		"a.stl": "solid " + strings.Repeat("s", maxRow+maxRow/4),
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := readBytes(t, []byte(file), name, maxRow/8, Options{})
		runtime.ReadMemStats(&after)
		assert.ErrorContains(t, err, "a line is longer than 16,777,216 bytes", name)
		// The bytes of file above count too.
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(8*len(file)), name)
	}
	var long strings.Builder // fields of 2 MB that do not matter
	for i := range 2 {
		fmt.Fprintf(&long, "%d 1 1 %s\n", i, strings.Repeat("x", 2<<20))
	}
	got, err := readBytes(t, []byte(long.String()), "a.xyz", blockSize, Options{Unit: mesh.Millimetre})
	require.NoError(t, err)
	assert.Equal(t, 2, got.Len())
}
