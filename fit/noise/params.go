package noise

// Constants of the family of kernels. Lengths are in units of the scale that Learn is
// given, the median radius of the holes for instance.
const (
	// shortest and longest are the lengths of the kernels tried. Shorter noise passes for
	// white; of longer noise the pieces show too little. bolt's StudyCoverage.
	shortest, longest = 0.15, 2.2
	// ratio is from one length to the next. The likelihood of smooth noise is narrow: at
	// 1.3 its length falls between two, and centres are stated 20 % too sure. Every roughStep
	// of them is that of a rough kernel, too. bolt's StudyCoverage.
	ratio, roughStep = 1.15, 2
	// below and above are the steps of ratio by which lengths of a rough kernel go beyond
	// those of smooth ones: they hold all but 3 % of its scale mixture. Derived.
	// TestRoughKernel.
	below, above = 9, 6
)

// Kernels of two lengths: fused scans have waves some three to five times as long as those
// that their residuals show, with a third of the variance, and these move a hole's centre
// most. longShare is the longer one's part of the variance, and twoPrior their prior, that
// of a smooth one being 1. StudyFormedHoles, on other seeds; bolt's StudyCoverage.
const longShare, twoPrior = 0.35, 0.5

// longer is how many steps of ratio the longer one is the longer: ratios of 3.1 and 5.4.
var longer = [...]int{8, 12}

// Ratios q that are tried: the correlated variance that fits leave visible, over the
// white variance of a median cell, from leastShare in steps of shareRatio. By trial.
// bolt's StudyCoverage.
const (
	leastShare, shareRatio, shares = 0.25, 4, 7
)

// Prior weights. Residuals show the length of smooth noise; that of rough noise they
// hardly show, and long waves that they do not show move a fit most. So a smooth kernel
// has the prior 1 for each step of ln L, a rough one L over the scale.
const (
	// whitePrior is that of no correlation, and of all smaller ratios too.
	// whiteBeside is the same beside a face. bolt's StudyCoverage, rows of white noise.
	whitePrior, whiteBeside = 24.0, 7.0
	// coarse is how many coordinates of a face count at most as evidence of the holes'
	// noise: the relative entropy between the noise of both is about 1/coarse. The least
	// that still shows what walls hide. StudyFormedHoles, on other seeds.
	coarse = 300.0
)

const (
	// floorSD is the standard deviation of white noise that is assumed beside the
	// residuals, in parts of their root mean square. Smooth noise leaves next to nothing in
	// short waves, and the likelihood would hang on that. bolt's StudyCoverage.
	floorSD = 0.05
	// negligible weight of a grid point is not looked at. Speed.
	negligible = 1e-4
	// shows is the mean log likelihood ratio by which noise must differ from white noise
	// to be called seen: one in 1,000 faces without it passes that. Derived (chi-squared
	// with one degree of freedom, twice that far out for its scatter). TestHidden.
	shows = 6
	// likelyWhite is the weight of white noise from which it may be that. By trial.
	// TestHidden.
	likelyWhite = 0.2
	// tenth is the ratio of the noise that Hidden asks for: a tenth of all is shared.
	tenth = 1.0 / 9
)

// Cells of a face.
const (
	// facePoints is the least mean number of points of a cell: 0.7 % are then empty.
	// Derived (Poisson).
	facePoints = 5
	// faceCell is the size of a cell, in scales. By trial. bolt's StudyCoverageWithTheFace.
	faceCell = 0.35
	// mostTile and leastTile are the cells along a side of a tile. Larger tiles show
	// longer waves; the time grows by the sixth power.
	mostTile, leastTile = 7, 4
)
