package zone

// Constants without unit unless stated; lengths are in units of the points'
// spread (a power of two near it), so none depends on the part's size. Each is
// watched by the test named.
const (
	// rounding is what a residual is sure to: a few units of the last place of
	// coordinates near one. Derived. TestCircleReferences (gap of rounding).
	rounding = 4e-16
	// maxSteps bounds the linear programs, maxRefused those in a row that better
	// nothing, each of which quarters the box: 4^-40 is below rounding. Derived.
	// TestCylinders.
	maxSteps, maxRefused = 300, 40
	// leastBox is the box of a step at which the search ends: no residual shows a
	// smaller one. Derived. TestCylinders.
	leastBox = rounding / 100
	// maxPivots bounds the simplex of one step: some ten times what 200,000 points
	// took. By trial. TestCylinders.
	maxPivots = 400
	// startBox is the first box of a step for inscribed and circumscribed shapes:
	// a tenth of the spread, beyond which a linear step says little. By trial.
	// TestCylinders.
	startBox = 0.1
	// shrink, grow, poor and good are the usual numbers of a trust region (Madsen
	// 1975). TestCylinders.
	shrink, grow, poor, good = 0.25, 2.0, 0.25, 0.75
	// runaway is the growth of an inscribed radius from which a side is called
	// open: a pin that grows by half leaves the hole that its points show. By
	// trial. TestInscribedNeedsMoreThanHalf.
	runaway = 1.5
	// fewPoints is up to how many points the largest empty circle is searched among
	// all circles through three of them: 10,000 circles. Speed. TestCircleReferences.
	fewPoints = 40
	// plump is the mean square thickness over breadth from which the other principal
	// planes are tried too: a fifth, squared. By trial. TestPlaneByExhaustiveSearch.
	plump = 0.04
	// gapBox is the step, part of the spread, that DualityGap allows: small against
	// any form error, large against rounding.
	gapBox = 1e-6
	// maxInscribedGap is the gap, part of the radius, from which an inscribed circle
	// is no optimum. TestInscribedNeedsMoreThanHalf.
	maxInscribedGap = 1e-9
	// leastSlope keeps the bound of a parameter that moves no residual finite, and overBound
	// how far a bound may be passed, of itself. Rounding.
	leastSlope, overBound = 1e-12, 1e-9
	// straight is the mean square across over that along below which points are on one
	// line. Rounding. TestPlaneByExhaustiveSearch.
	straight = 1e-12
	// hullRounding, rad, and circleRounding are the rounding of a direction and of a
	// distance from a computed centre. Derived. TestCircleReferences.
	hullRounding, circleRounding = 1e-12, 1e-13
)
