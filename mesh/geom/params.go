package geom

// Tuned constants, without unit: what is compared is scaled first. Each is watched
// by the test named.
const (
	// newtonSteps bounds Newton's iteration for the smallest eigenvalue, of a trace of
	// one, which ends at a step below newtonEnd. Near a single eigenvalue it is
	// quadratic; from zero it may halve its distance some twenty times before. By trial.
	// TestEigenAgreesWithReference.
	newtonSteps = 30
	newtonEnd   = 1e-12
	// leastGaps is the square of the product of the smallest eigenvalue's distances to
	// the others, of a trace of one, below which it is not single: rounding
	// leaves such numbers. By trial. TestSmallestSaysWhereThereIsNoPlane.
	leastGaps = 1e-20
	// jacobiSweeps bounds Jacobi's rotations, which converge in some eight sweeps, and
	// jacobiEnd is the sum of squares off the diagonal, by that on it, where they end:
	// far below rounding, so that small eigenvalues keep their digits. Derived.
	// TestEigenAgreesWithReference.
	jacobiSweeps = 60
	jacobiEnd    = 1e-40
	// quadricPivot is the least pivot, by its diagonal element, of a quadric's normal
	// equations: of points on a curve of second degree rounding leaves less. By trial.
	// TestQuadricIsFound notices 0.9; none notices 1e-20.
	quadricPivot = 1e-9
	// leastPivot is the least coefficient, relative to the constraints' own of about
	// one, that a basis may be changed on: less is rounding. Derived.
	// TestLinearProgramAgreesWithGonum.
	leastPivot = 1e-11
	// straight is the sine below which three directions count as in one plane, or two
	// as in one line: what rounding leaves of coordinates far from the origin. Derived.
	// TestCircleAndSphereThroughPoints.
	straight = 1e-12
	// insertionBelow is the number of values from which on they are partitioned instead
	// of sorted by insertion. Speed; the order does not depend on it. TestOrderStatistics.
	insertionBelow = 16
)
