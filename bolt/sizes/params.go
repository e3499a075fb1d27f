package sizes

import "math"

// prior says what sizes of a kind are drawn from: the median, mm, and the factor that is
// one standard deviation of their logarithm, and how often each series is meant; the rest
// is any size at all. Common practice, no source. StudySizes compares with parts of other
// habits; TestCalibrated would notice.
type prior struct {
	median, factor                    float64
	clearance, inchClearance, tapped  float64
	millimetres, preferred, fractions float64
}

func (k Kind) prior() prior {
	p := prior{median: 8, factor: 2.2, millimetres: 0.55, preferred: 0.05, fractions: 0.2}
	switch k {
	case Hole:
		p.clearance, p.inchClearance, p.tapped = 0.25, 0.12, 0.12
		p.millimetres, p.fractions = 0.22, 0.08
	case Bore:
		p.median, p.factor = 30, 2.5
	case PitchDiameter:
		p.median = 80
	}
	return p
}

// How often a fastener is not of the first choice, which clearance hole it is given (fine,
// medium, coarse), and how often that of the older table. Common practice, no source.
// TestNames.
const (
	secondChoice = 0.1
	olderTable   = 0.2
)

var fits = [3]float64{0.25, 0.6, 0.15}

// step is the step of a series, and how much of the series' weight it has: round numbers
// are meant more often than others. Common practice, no source. TestCalibrated.
type step struct{ size, weight float64 }

var (
	millimetreSteps = [...]step{{10, 0.2}, {5, 0.2}, {1, 0.35}, {0.5, 0.15}, {0.1, 0.1}} // mm
	fractionSteps   = [...]step{{1, 0.15}, {1. / 2, 0.2}, {1. / 4, 0.25}, {1. / 8, 0.2},
		{1. / 16, 0.12}, {1. / 32, 0.05}, {1. / 64, 0.03}} // in
	renardSteps = [...]step{{5, 0.2}, {10, 0.3}, {20, 0.3}, {40, 0.2}} // numbers a decade
)

// made is how far holes are made from their nominal size: widths of tolerance grades in
// tolerance units of ISO 286-1 (grades 8, 11 and 13), and how often each. A uniform
// deviation within a grade has its width / sqrt(12) as standard deviation. Which grades
// shops keep is common practice, no source. TestCalibrated.
var made = [...]struct{ units, weight float64 }{{25, 0.35}, {100, 0.4}, {250, 0.25}}

// toleranceUnit is i of ISO 286-1, mm, of a nominal size, mm.
func toleranceUnit(d float64) float64 { return (0.45*math.Cbrt(d) + 0.001*d) / 1000 }

const (
	// LeastU is the least standard uncertainty, mm, that is believed: drawings have
	// none, but their circles are polygons. TestExactSizes.
	LeastU = 0.001

	// window is within how many of the largest standard deviations a size is a
	// candidate: beyond, the likelihood is below 1e-5 of its greatest.
	window = 5

	// leastPreferred is the least preferred number, mm, that is a size: below are
	// holes that no one drills. TestNames.
	leastPreferred = 0.1

	// leastListed is the least probability of a candidate that is listed. TestNames.
	leastListed = 0.01

	// likely is the probability from which on a size is taken as meant: it is more
	// probable than all else together. useFrom is the share of that from which on
	// another use of the size is said. TestUses.
	likely  = 0.5
	useFrom = 0.1

	// sameSize, mm, is how far two printed forms of one size differ at most: 3/32 in
	// is printed as 0.0938 in. TestSameSize.
	sameSize = 0.002
)

// units are those that a scan may be in, how often, and the millimetres in one. Most
// scanners write millimetres; the rest is common practice, no source. TestUnitsCaught.
var units = [...]struct {
	name   string
	mm     float64
	weight float64
}{{"mm", 1, 0.88}, {"in", 25.4, 0.04}, {"m", 1000, 0.04}, {"cm", 10, 0.025}, {"ft", 304.8, 0.015}}

// The width of parts that are bolted to something, mm: median and the factor of one
// standard deviation. Common practice, no source. TestUnitsCaught.
const (
	widthMedian = 120
	widthFactor = 3.5
)

// doubted is the probability of the unit below which it is in doubt, and rival that of
// another unit from which on it is named beside: TestUnitsCaught and
// TestMillimetresRaiseNoDoubt count both kinds of error.
const (
	doubted = 0.7
	rival   = 0.05
)
