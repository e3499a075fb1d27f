package scanio

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// cancelling is a file whose reading cancels a context after some calls.
type cancelling struct {
	io.ReaderAt
	left   atomic.Int64
	cancel context.CancelFunc
}

func (c *cancelling) ReadAt(b []byte, off int64) (int, error) {
	if c.left.Add(-1) == 0 {
		c.cancel()
	}
	return c.ReaderAt.ReadAt(b, off)
}

func TestReadStopsWhenCancelled(t *testing.T) {
	s := waves(60, true, false)
	for name, write := range map[string]func(io.Writer, *mesh.Scan) error{
		"a.stl": WriteSTL, "b.stl": textSTL, "a.ply": writePLY, "b.ply": textPLY, "a.obj": objText, "a.xyz": xyzText,
	} {
		file := written(t, s, write)
		for _, calls := range []int64{1, 3} {
			ctx, cancel := context.WithCancel(t.Context())
			r := &cancelling{ReaderAt: bytes.NewReader(file), cancel: cancel}
			r.left.Store(calls)
			in := newInput(r, int64(len(file)), name)
			in.chunk = 1000
			_, err := in.read(ctx, Options{})
			assert.ErrorIs(t, err, context.Canceled, name)
			cancel()
		}
	}
}

// The checksum of a file, against FIPS 180-4's own example of one block, "abc", which no scan
// is (from memory), and the library's of the whole file.
func TestChecksum(t *testing.T) {
	abc := newInput(bytes.NewReader([]byte("abc")), 3, "abc")
	sum, err := abc.checksum(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", sum)

	file := written(t, waves(60, true, false), WriteSTL)
	s, err := ReadFrom(t.Context(), bytes.NewReader(file), int64(len(file)), "a.stl", Options{Checksum: true})
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("%x", sha256.Sum256(file)), s.Source.SHA256)
	s, err = ReadFrom(t.Context(), bytes.NewReader(file), int64(len(file)), "a.stl", Options{})
	require.NoError(t, err)
	assert.Empty(t, s.Source.SHA256)
}

// failingFile fails from some byte on.
type failingFile struct {
	io.ReaderAt
	from int64
	err  error
}

func (f failingFile) ReadAt(b []byte, off int64) (int, error) {
	if off+int64(len(b)) > f.from {
		return 0, f.err
	}
	return f.ReaderAt.ReadAt(b, off)
}

func TestReadPassesOnErrorsOfTheDisk(t *testing.T) {
	s := waves(60, true, false)
	bad := errors.New("bad sector")
	for name, write := range map[string]func(io.Writer, *mesh.Scan) error{
		"a.stl": WriteSTL, "b.stl": textSTL, "a.ply": writePLY, "b.ply": textPLY, "a.obj": objText, "a.xyz": xyzText,
	} {
		file := written(t, s, write)
		require.Greater(t, len(file), 70000, name)
		for _, from := range []int64{100, int64(len(file) - 10)} {
			_, err := ReadFrom(t.Context(), failingFile{bytes.NewReader(file), from, bad}, int64(len(file)), name, Options{})
			assert.ErrorIs(t, err, bad, name)
			assert.ErrorContains(t, err, name)
		}
		// A file that shrinks while it is read.
		_, err := ReadFrom(t.Context(), bytes.NewReader(file[:len(file)-10]), int64(len(file)), name, Options{})
		var short *FormatError
		require.True(t, errors.As(err, &short), "%s: %v", name, err)
		assert.True(t, short.Truncated)
	}
}

func TestReadReportsProgress(t *testing.T) {
	s := waves(60, true, false)
	for name, write := range map[string]func(io.Writer, *mesh.Scan) error{
		"a.stl": WriteSTL, "b.stl": textSTL, "a.ply": writePLY, "b.ply": textPLY, "a.obj": objText, "a.xyz": xyzText,
	} {
		file := written(t, s, write)
		last := -1
		_, err := ReadFrom(t.Context(), bytes.NewReader(file), int64(len(file)), name, Options{
			Progress: func(done, total int) {
				assert.Equal(t, len(file), total)
				assert.GreaterOrEqual(t, done, last)
				last = done
			}})
		require.NoError(t, err)
		assert.Equal(t, len(file), last, name)
	}
}

func TestReadDoesNotDependOnJobs(t *testing.T) {
	s := waves(70, true, true)
	for name, write := range map[string]func(io.Writer, *mesh.Scan) error{
		"b.stl": textSTL, "a.ply": writePLY, "b.ply": textPLY, "a.obj": objText, "a.xyz": xyzText,
	} {
		file := written(t, s, write)
		want, err := readBytes(t, file, name, 10000, Options{Jobs: 1})
		require.NoError(t, err)
		for _, jobs := range []int{2, 8} {
			got, err := readBytes(t, file, name, 10000, Options{Jobs: jobs})
			require.NoError(t, err)
			require.Equal(t, want, got, name)
		}
	}
}

func TestStrangersAreNamed(t *testing.T) {
	for file, what := range map[string]string{
		"PK\x03\x04abc": "a ZIP archive", "\x1f\x8b\x08": "a gzip archive", "%PDF-1.7": "a PDF document",
		"ISO-10303-21;\nHEADER;": "a STEP file", "{\"a\": 1}": "a JSON file", "\xff\xfe1\x00": "text in UTF-16",
		"\x00\x01\x02\x03": "no scan of a known format",
	} {
		_, err := readText(t, "part.bin", file, Options{})
		var bad *FormatError
		require.True(t, errors.As(err, &bad), "%q: %v", file, err)
		assert.ErrorContains(t, err, what)
		assert.NotEmpty(t, bad.Fix)
	}
}
