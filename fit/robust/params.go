package robust

// Constants without unit unless stated. Each is watched by the test named;
// TestCircleReachesTheFitToTheGoodPoints notices any that costs a percent.
const (
	// samples is how many starts are drawn: with two
	// points in five bad some 20 of 100 samples of three points are good. Derived.
	// TestCircleReachesTheFitToTheGoodPoints.
	samples = 100
	// searched is the same of samples that need a search of their own, of
	// searchedPoints points: enough for one point in five bad. Derived. TestShapes.
	searched, searchedPoints, searchedSteps = 40, 8, 20
	// rankPoints are looked at to rank a sample, cPoints to concentrate the best
	// keep of them, by cSteps refits. Speed. TestCircleReachesTheFitToTheGoodPoints.
	rankPoints, cPoints, keep, cSteps = 80, 200, 2, 3
	// refitSteps are the iterations of a refit inside a loop that repeats it. Speed.
	refitSteps = 2
	// rounds bounds expectation and maximisation, which ends where no probability
	// moves by more than settled. By trial. TestShapes.
	rounds, settled = 60, 3e-3
	// quorum is the share of points that must agree on a shape: a little less than half,
	// so that of two shapes that share the points evenly one is found, and not what lies
	// between them. TestTwoCirclesAreCalledAmbiguous.
	quorum = 0.45
	// least is the probability of belonging below which a point has no weight.
	least = 0.02
	// quartile and median are those of half normal noise, in standard deviations.
	// Normal distribution.
	quartile, median = 0.3186, 0.6745
	// from and to are between how many standard deviations the density of outliers is
	// counted, tail the share of normal noise beyond from on one side. By trial; the
	// normal distribution. TestCircleReachesTheFitToTheGoodPoints.
	from, to, tail = 2.5, 6.5, 0.00621
	// startShare and startDensity are the share of outliers and, over the furthest
	// residual, their density at the start. By trial.
	startShare, startDensity = 0.2, 0.1
	// maxShare bounds the share, leastCount the count of outliers that a density is
	// taken from: beyond 4 standard deviations or so nothing belongs. By trial.
	maxShare, leastCount = 0.9, 0.2
	// rival is the share of the points explained from which a second shape makes the
	// first ambiguous. TestTwoCirclesAreCalledAmbiguous.
	// It is looked for among that many points, and rivalSpare more than a sample: any
	// sample fits itself. By trial.
	rival, rivalSpare = 0.8, 3
	// rivalWidth is within how many standard deviations it explains them.
	rivalWidth = 3
)
