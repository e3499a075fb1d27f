package mesh

// Every tuned constant of the package: what it is, its unit, why this value,
// and the test that would notice a change.

// The k-d tree.
const (
	// leafSize is the largest number of points in a leaf. 16 builds and answers
	// faster than 8, 12 and 24 (BenchmarkNewKDTree, BenchmarkNearest).
	leafSize = 16
	// sharedLevels is the number of upper levels that are split one by one, so
	// that 2^sharedLevels subtrees are left to share out among the cores: a few
	// for each core of a large machine (BenchmarkNewKDTree).
	sharedLevels = 7
)

// Orientation of meshes.
const (
	// trustedMinority is the largest share of a mesh's area that may be wound
	// against the rest of its surface for the majority to be believed. Holes that
	// a program filled or parts that it pasted in are less; of triangles wound at
	// random it is half (TestWindingsAreMadeToAgree).
	trustedMinority = 0.05
	// leastShell is the share of a mesh's triangles from which on a closed piece
	// is looked at: smaller ones are dust, whose side does not matter.
	leastShell = 0.01
	// shellGaps is the square of the length of a closed surface's open edges, by
	// its area, up to which it counts as closed: one round gap of 0.4 % of it. A
	// bore or pocket that was scanned alone is far more open, and is rightly
	// of negative volume (TestInsideOutMeshesAreTurned).
	shellGaps = 0.05
	// flatShell is the least volume of a closed surface by area^1.5, below which
	// it is a doubled sheet, and its sign chance. A plate of 0.1 mm by 300 mm has
	// 1e-4, rounding 1e-7.
	flatShell = 1e-5
)
