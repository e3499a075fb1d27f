package fit

import "github.com/golang/geo/r3"

// Constants without unit unless stated: points are centred and scaled to about one
// before a fit, so none depends on a part's size. Each is watched by
// the test named.
const (
	maxParams = 6
	// blockRows is how many rows of the Jacobian are formed at a time; they stay in
	// the fastest cache. Speed. BenchmarkIteration.
	blockRows = 128
	// chunk is how many points are summed before the sum is added to the total, in
	// order. TestManyPointsSameBits.
	chunk = 4096
	// parallelFrom is the number of points from which a second core pays. Speed.
	// BenchmarkCylinderStart.
	parallelFrom = 8 * chunk
	// startPoints is the size of the sample that starts are found on. Speed: a full
	// pass over a million points costs as much as the whole search. BenchmarkCylinderTo.
	startPoints = 600

	// defaultIter bounds the iterations; a fit takes some ten. By trial. TestConePoses.
	defaultIter = 200
	// singular is the condition number from which a fit is called undetermined: the
	// digits of the answer are then fewer than the input's rounding leaves. Derived.
	// TestDegenerateSetsSayWhatIsMissing.
	singular = 1e9
	// leastPivot, of a matrix with unit diagonal, is where it counts as singular: a few
	// units of its rounding. Derived. TestNormalStepRefusesSingular.
	leastPivot = 1e-15
	// sharpest bounds the curvature: a radius of less than this part of the points'
	// spread is a point or a line. Derived. TestAnySetGivesAnAnswerOrAnError.
	sharpest = 1e6
	// flattest is the curvature below which a radius is rounding. Derived.
	// TestRadiusThatNoiseMadeIsRefused.
	flattest = 1e-7
	// roundFrom is the curvature from which the first form of ∂f/∂k is exact enough,
	// see arc. Derived. TestJacobiansAgreeWithDifferences.
	roundFrom = 0.01
	// leastSection is how small, of the one at hand, the section of a cone at the
	// centroid's height may be to be taken. By trial. TestConePoses.
	leastSection = 1e-3
	// roundingSquares is the mean square, of the coordinates' rounding, that points on
	// a plane or line may have off it: 8 roundings. By trial.
	// TestDegenerateSetsSayWhatIsMissing.
	roundingSquares = 64

	// axisGrid is the number of directions tried over half the sphere, about 7 degrees
	// apart, and axesApart, rad, how far apart those are that are started from. By trial.
	// TestCylinderPoses, TestConePoses.
	axisGrid  = 400
	axesApart = 0.2
	// alignRounds bounds how often the scatter is formed along its own directions, which
	// ends where the squares of their turns are below aligned. Derived from rounding.
	// TestPlaneReferences.
	alignRounds, aligned = 4, 1e-30
	// cylinderAxes and coneAxes are how many directions are started from. By trial.
	// TestCylinderPoses, TestConePoses.
	cylinderAxes, coneAxes = 6, 8
	// notZero is added to what is divided by and may be zero, or bounds it from below.
	// It changes no sum that is not zero itself. Derived.
	// TestAnySetGivesAnAnswerOrAnError.
	notZero = 1e-300
	// alike is the least relative difference of two mean squares so that a direction
	// is that of the least or most. Derived. TestDegenerateSetsSayWhatIsMissing.
	alike = 1e-9

	// The iteration (see solve), all by trial on TestCylinderPoses and TestConePoses but
	// where stated.
	firstDamping  = 1e-6     // μ at the start
	polishFrom    = 1e-3     // size of a step, RMS of the surface, from which damping is zero
	slowSteps     = 10       // undamped steps after which second derivatives are taken. TestShortOvalCylinder
	differStep    = 1e-5     // by which these move the surface, RMS. TestShortOvalCylinder
	leastCut      = 1.0 / 10 // of μ at a good step; the paper has 1/3. No test notices 0.95
	leastDamping  = 1e-9     // μ after an undamped step was refused
	mostDamping   = 1e15     // where the iteration gives up
	stillStep     = 1e-14    // size of a step at the rounding; derived
	nearStep      = 1e-4     // the same for a search: what is left is the square of it
	costRounding  = 1e-12    // of the cost: less of a change says nothing of a step
	pointRounding = 4e-16    // of a residual; derived. TestRoundedPointsConverge

	// onAxis and onCentre are how near an axis or centre, of the radius, the points'
	// centroid counts as on it, so that it gives no direction. Derived. TestCirclePoses.
	onAxis, onCentre = 1e-6, 1e-9
)

// Constants of the correlated noise, without unit unless stated.
const (
	// mostCells of a surface show its noise: more take long to learn from (their cube).
	// firstCells lie along the diagonal of its box at first, and cellStep is from one size
	// of cells to the next. Speed. ExampleCells.
	mostCells, firstCells, cellStep = 64, 16, 1.25
)

// border moves the cells' borders off a surface's middle, where symmetric surfaces would lie
// on them; parts of a cell, no multiples of each other.
var border = r3.Vector{X: 0.37, Y: 0.41, Z: 0.45}

// cover are the coverage factors for 95 %: of a scalar (rounded up, as the GUM, JCGM
// 100:2008, 6.3.3, has it), and of the distance from the true place in two and in three
// directions, the root of the 95 % point of chi-squared with as many degrees of
// freedom: sqrt(5.99146) and sqrt(7.81473), any table of it. TestExpanded.
var cover = [...]float64{2, 2.4477, 2.7955}
