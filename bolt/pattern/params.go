package pattern

const (
	// maxCondition is the condition number of the normal equations, in mm and rad, beyond
	// which places do not determine a pattern: those of places a thousandth of the pattern
	// apart. TestUndetermined.
	maxCondition = 1e12

	// nearby is the part of the least distance between two places of one part within which
	// another's place is assumed to be the same: half of the most that gives each place one.
	// TestFewerPlacesFirst.
	nearby = 0.25

	// sameTurn, radians, is the width to which a turn is narrowed down: 1e-9 mm on a
	// pattern of a metre. TestClockAgainstAScan.
	sameTurn = 1e-12

	// draws of places and clearances, a prime, and the multiplier of their lattice.
	// TestProbabilityOfAssembly.
	draws   = 8191
	lattice = 5130

	// gapTolerance, mm, is the gap between the best float found and the bound on it.
	// mostCuts ends a search that does not reach it, and Gap says so; mostLayings is how
	// often the turn is made linear anew, each time squaring what is left of it; leastPart
	// is the least part of a step that is tried. TestAssembleAgainstASearch.
	gapTolerance = 1e-9
	mostCuts     = 500
	mostLayings  = 8
	leastPart    = 0.01

	// Prior weights of readings of a ring: common practice, no source. TestReadings,
	// StudyNominal.
	priorMissing   = 0.4  // a ring that lacks features, less with each,
	missingRate    = 12.0 // as exp(-12 of the part that is missing)
	priorPart      = 0.2  // features over part of a ring
	priorRoundStep = 0.6  // of those, on a step of a multiple of 15 degrees,
	priorOddStep   = 0.05 // or on one that is no multiple of 5 or 7.5
	priorOffset    = 0.03 // one feature off its position on purpose
	priorFives     = 0.5  // of those, by a multiple of 5 degrees
	priorIrregular = 0.05 // no pattern at all,
	priorSpread    = 0.5  // of those, one feature to each equal sector
	sumSquares     = 0.38 // Σ 1/m² from 3 on, which makes the prior of full rings one

	// leastOffset, degrees, is the least by which a position is offset on purpose: less
	// looks like a mistake. TestReadings.
	leastOffset = 3.0

	// finestStep is the number of steps in a turn of the finest step tried, 5 degrees. At
	// most half the positions of a reading may lack a feature. TestReadings.
	finestStep = 72

	// sizeRange is the log of the range of sizes that a pattern may have, 1 to 150 times
	// the least: what finds nothing depends on it by its log only. TestRandomLayouts.
	sizeRange = 5.0

	// leastOdds is how many times as probable as anywhere the places of a pattern are that
	// is reported. TestRandomLayouts, StudySearch.
	leastOdds    = 4.0
	logLeastOdds = 1.3862943611198906 // ln 4

	// sameSize is the part by which diameters of one pattern may differ. TestSearch.
	sameSize = 0.04

	// priorOtherKind is the prior of a member of another kind or size than most, beside
	// the number of ways to choose it. TestSearch.
	priorOtherKind = 0.05

	// priorBore is the prior of a bore in the middle of a ring, at least boreLarger times as
	// wide as the ring's own. Common practice, no source. TestSearch.
	priorBore  = 0.3
	boreLarger = 1.2

	// aroundFeatures is how far, in parts of the box about all features, they could lie
	// outside it, where the area is not given. TestRandomLayouts.
	aroundFeatures = 0.3

	// nearest is how many features of a class are looked at about each. BenchmarkSearch.
	nearest = 24

	// seedGate is how many standard deviations the few features may disagree by that a
	// pattern is sought from. TestSearch.
	seedGate = 4.0

	// ringGate is how many standard deviations of drilling and measurement a member may
	// lie off its place: one that is off by twelve times the usual care is found. TestSearch.
	ringGate = 12.0

	// gridGate is how many standard deviations of drilling and measurement a member may
	// lie off its cell. TestSearch.
	gridGate = 8.0

	// leastFill is the part of a grid's cells that hold a feature. TestSearch.
	leastFill = 0.75

	// Prior weights of grids: common practice, no source. TestSearch.
	priorRectangle = 0.3 // two rows of two
	priorLine      = 0.1
	priorGrid      = 0.3

	// falseOutlier is the probability that of a regular pattern's members one is called off;
	// falseFurther that of those that are left one more is. mostOff is the most that can
	// be. TestOneHoleTwentyMicrometresOff of report.
	falseOutlier = 0.05
	falseFurther = 0.002
	mostOff      = 8

	// nearlyNormal are the degrees of freedom from which the distribution of Student is taken
	// for the normal one: of four standard uncertainties it is less than 0.002 off. Derived.
	nearlyNormal = 1e4

	// clearly is how much less the misfit of the best set of members must be than that of
	// the next, in units of the rest's own scatter: the likelihood of the next is then a
	// thousandth, exp(-clearly/2). TestStandouts of report.
	clearly = 13.8

	// layings of reweighted least squares at most: each leaves a third or less of what is
	// left to do. TestReadings.
	// laidEnough is the square, in standard uncertainties, of the movement that ends it before.
	layings    = 6
	laidEnough = 1e-3
)

// drillMix says how far features lie off their nominal places: share, and times drillSD.
// Common practice, no source. TestReadings.
var drillMix = [...]struct{ share, scale float64 }{{0.85, 1}, {0.12, 4}, {0.03, 12}}

// careOf is how much more than usual all features of a pattern may be off, and how often.
type careOf struct{ share, scale float64 }

// careMix are the makers' cares, far wider than any workshop's, so that each pattern's own
// scatter shows its care. Common practice, no source. StudyNominal.
var careMix = [...]careOf{{0.1, 15}, {0.2, 6}, {0.25, 2.5}, {0.25, 1}, {0.2, 0.4}}

// usual is the care that patterns are sought with. TestRandomLayouts.
var usual = []careOf{{1, 1}}

// drillSD is a workshop's usual care, mm, as a standard deviation each way in a pattern of
// that size, mm: half the permissible deviation of ISO 2768-1 class m, taken as two of
// them. TestClockWorkedCircles.
func drillSD(size float64) float64 {
	for _, row := range [...]struct{ to, sd float64 }{{6, 0.05}, {30, 0.1}, {120, 0.15}, {400, 0.25}, {1000, 0.4}} {
		if size <= row.to {
			return row.sd
		}
	}
	return 0.6
}
