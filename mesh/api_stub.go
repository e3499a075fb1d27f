package mesh

import "context"

// This file is scaffolding: signatures that the other packages build on. Each
// is replaced by its real implementation in a file of its own.

// ReadOptions: the zero value works.
type ReadOptions struct {
	// Unit of the numbers in the file; empty means the file's own statement,
	// else millimetres (assumed).
	Unit Unit
	// Jobs is the number of goroutines; zero means GOMAXPROCS. It does not
	// change the result.
	Jobs int
	// Progress, if set, is called from one goroutine, at most ten times a second.
	Progress func(done, total int)
}

// Read reads a scan file of any known format, told by its content; welds
// points of equal coordinates, drops broken triangles and counts them.
// Mesh normals are those stated in the file or nil.
func Read(ctx context.Context, path string, opt ReadOptions) (*Scan, error) { panic("todo") }
