package forecast

// Limits of the points of a simulated scan; TestWhatIsNotSaidIsNotMadeUp notices the
// larger one. Chosen for minutes of work and gigabytes of memory, no source.
const (
	manyPoints    = 3_000_000
	tooManyPoints = 20_000_000
)

const (
	// leastTrials come before a standard error is trusted: with 11 degrees of
	// freedom it is good to a fifth. Assumed, no source.
	leastTrials = 12
	// precision is the share of each mean stated uncertainty within which it is to be known,
	// one standard error, before trials stop: the second digit of what decides is then off by
	// one or two at most. Chosen; TestWideBandsNeedFewerTrials.
	precision = 0.04
	// enough is the chance from which on a forecast says yes, as the 95 % of an
	// expanded uncertainty; TestWhatIsNeverSeenIsSaidSo.
	enough = 0.95
	// mostAllowed is the factor by which the uncertainty of a wide band may be known less
	// well: with a precision of 4 %, to 10 %, which one digit shows. Chosen;
	// TestWideBandsNeedFewerTrials.
	mostAllowed = 2.5
	// spacingOfVoxel is the spacing (see mesh.Sampling) of a simulated mesh over its
	// voxel: found by simulation, good to 2 %; TestScannerIsAsAsked.
	spacingOfVoxel = 0.948
	// pilotPoints is the size of the trial cloud that shows how many points give a spacing;
	// TestScannerIsAsAsked.
	pilotPoints = 30_000
)

// Constants of the simulated part: enough points for what a check looks at, and no more,
// as each costs time. Assumed, no source; TestPartCarriesThePlan notices.
const (
	// The face about a hole is this many spacings wide, and mm, at least.
	marginSpacings, leastMargin = 12, 3
	// A part without holes is this many spacings thick, and mm, at least.
	thickSpacings, leastThick = 10, 5
	// turns of a circle of free place are tried.
	turns = 24
)
