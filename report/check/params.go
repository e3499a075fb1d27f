package check

// How far a feature may be from its nominal and still be matched to it: wide, so that a wrong
// size is called nonconforming and not missing (assumed, no source).
// TestCheckSaysMissing and TestAnotherUnitIsNamed notice them.
const (
	sizeShare = 0.1  // of a nominal diameter,
	sizeLeast = 0.5  // mm, but at least this
	atReach   = 2.0  // mm, from a planned place, or
	atShare   = 0.04 // of the place's distance from the frame's origin
)

// mostTilt is how far, degrees, planes may be from parallel, and axes too, to have
// one distance.
// TestReferenceDistances notices it.
const mostTilt = 0.5

// rays is how many directions an integral over a turn takes: TestPlanarClosedForms notices fewer.
const rays = 120

// halvings of a range of some three standard deviations that find an uncertainty: to five
// digits. TestPlanarExpanded notices fewer.
const halvings = 20

// manyDoF is from where Student's t is the normal distribution to three digits of a tail.
// TestPlanarClosedForms notices less.
const manyDoF = 500

// draws is how many parts of a normal distribution a probability is averaged over: its
// standard deviation is then 3 % low. TestMaximumMaterialIsTheGauge uses it.
const draws = 20
