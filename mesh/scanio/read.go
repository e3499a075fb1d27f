// Package scanio reads and writes scan files.
package scanio

import (
	"context"
	"io"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// Options says how to read a scan. The zero value works.
type Options = mesh.ReadOptions

// FormatError says what is wrong with a scan file, where, and how to mend it.
type FormatError = mesh.FormatError

// Read reads a scan file, told by its content.
func Read(ctx context.Context, path string, opt Options) (*mesh.Scan, error) {
	return mesh.Read(ctx, path, opt)
}

// ReadFrom is Read for size bytes of r. The name serves error messages and,
// by its extension, doubtful cases.
func ReadFrom(ctx context.Context, r io.ReaderAt, size int64, name string, opt Options) (*mesh.Scan, error) {
	return mesh.ReadFrom(ctx, r, size, name, opt)
}

// ReadPoints reads the points of a file in double precision, in file order
// and in the file's own unit.
func ReadPoints(ctx context.Context, path string) ([]r3.Vector, error) {
	return mesh.ReadPoints(ctx, path)
}

// WriteSTL writes a mesh as binary STL, in millimetres.
func WriteSTL(w io.Writer, s *mesh.Scan) error { return mesh.WriteSTL(w, s) }

// WritePLY writes a scan as binary PLY, in millimetres.
func WritePLY(w io.Writer, s *mesh.Scan) error { return mesh.WritePLY(w, s, mesh.PLYOptions{}) }
