package page

// Looks and sizes, chosen by looking at the result.
const (
	// mostTriangles and mostPoints of the view; a scan with more is thinned to them, which
	// keeps a page under 12 MB (TestSizeOfALargeScan).
	mostTriangles = 300_000
	mostPoints    = 400_000
	// cellGrowth is the factor by which larger cells are tried where thinning leaves too many.
	cellGrowth = 1.15
	// fewHoles fit below the drawing on a printed sheet (TestPrintIsOnePage).
	fewHoles = 10
	// bins of the histogram, an odd number so that one is about zero.
	bins = 61
	// leastRange, degrees, is shown of spacing on each side at least, however exact the scan.
	leastRange = 0.005
	// mostWalls is how many holes have a picture of their wall, and wallPoints how many points
	// it shows at most.
	mostWalls  = 6
	wallPoints = 900
	// mostControl is how many control charts a summary shows: a screen or three.
	mostControl = 12
	// wallShare is how far the larger deviations of a wall are drawn, as a share of the radius;
	// wallOuter is the share of the points that is drawn within it.
	wallShare = 0.3
	wallOuter = 0.98
	// seenInPart is below how many degrees of its wall or rim a hole counts as doubtful: two
	// thirds, as a circle through 240 degrees is well determined (testdata/references/formulas.json).
	seenInPart = 240
)
