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

// SetNormals computes s.Normals: on a mesh angle weighted from the triangles;
// on a cloud from the neighbours, oriented where the data can say, else
// consistently over connected pieces. It reports whether the orientation is
// known (mesh winding or file normals: yes).
func SetNormals(ctx context.Context, s *Scan, ix *Index, jobs int) (oriented bool, err error) {
	panic("todo")
}

// Texture is what the data says of its own sampling.
type Texture struct {
	Spacing float64 // median distance to the nearest few neighbours, mm
	Noise   float64 // standard deviation of points across the local surface, mm
}

// EstimateTexture estimates point spacing and noise from a sample of points.
func EstimateTexture(ctx context.Context, s *Scan, ix *Index, seed uint64) (Texture, error) {
	panic("todo")
}

// Rim is a loop of open edges of a mesh: vertex numbers in order, the surface
// on the left seen from outside.
type Rim struct {
	Points []int32
	Closed bool
}

// Rims returns the loops of open edges of a mesh.
func Rims(s *Scan) []Rim { panic("todo") }

// Islands labels the connected pieces: one number a point, 0 the largest (by
// triangles on a mesh; by points within reach on a cloud), and their sizes.
func Islands(s *Scan, ix *Index, reach float64) (label []int32, sizes []int) { panic("todo") }

// BoundaryPoints returns the points of a cloud on the edge of their local
// surface: those where the directions to the neighbours leave a gap of more
// than gap radians in the tangent plane.
func BoundaryPoints(s *Scan, ix *Index, idx []int32, k int, gap float64) []int32 { panic("todo") }
