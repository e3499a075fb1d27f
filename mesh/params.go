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
