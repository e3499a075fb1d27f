package pattern

const (
	// maxCondition is the condition number of the normal equations, in mm and rad, beyond
	// which places do not determine a pattern: those of places a thousandth of the pattern
	// apart. TestUndetermined.
	maxCondition = 1e12

	// nearby is the part of the least distance between two places of one part within which
	// another's place is taken for the same: half of the most that gives each place one.
	// TestFewerPlacesFirst.
	nearby = 0.25

	// draws of places and clearances, a prime, and the multiplier of their lattice.
	// TestProbabilityOfAssembly.
	draws   = 2039
	lattice = 1487

	// gapTolerance, mm, is the gap between the best float found and the bound on it.
	// mostCuts ends a search that does not reach it, and Gap says so; mostLayings is how
	// often the turn is made linear anew, each time squaring what is left of it; leastPart
	// is the least part of a step that is tried. TestAssembleAgainstASearch.
	gapTolerance = 1e-9
	mostCuts     = 500
	mostLayings  = 8
	leastPart    = 0.01
)
