package form

// Constants of cells.
const (
	// acrossFlat are coarse cells along the longer side of a plane, aroundRound those round
	// a cylinder and alongRound, at most, along it. Five for each wave of the slow terms;
	// time grows with the third power of their number. TestFlatnessFindsABow.
	acrossFlat, aroundRound, alongRound = 8, 18, 5
	// leastRows of cells lie across a narrow face or a short cylinder: three places tell its
	// curvature from its tilt. Derived. TestFlatnessOfNarrowFaces.
	leastRows = 3
	// coarsePoints and finePoints are the least numbers of points of a cell. The noise of
	// coarse ones is known by their number; fine ones, whose range counts, are known to a
	// third of the noise. Derived.
	coarsePoints, finePoints = 4, 8
	// mostFine are fine cells along a side, at most. Speed.
	mostFine = 100
	// cellsLeast is the least number of coarse cells for each slow term. By trial.
	// TestFlatnessOfAScrapIsNotGiven.
	cellsLeast = 3
)

// Constants of what is form and what is noise.
const (
	// dentRatio: a cell this many times the scatter off by itself is form, not noise: one of
	// a million by chance. Derived. TestFlatnessFindsADent.
	dentRatio = 5
	// restGain is the ratio to the noise from which residuals about the slow terms are
	// form: segment's rmsGain, which has the same task. TestFlatnessOfTexture.
	restGain = 1.35
	// mostHidden bounds the factor for form that changes within a fine cell, and shortSD is
	// the standard uncertainty of a range of short form, in parts of it. By trial.
	// TestFlatnessOfTexture, segment's StudyFormSize.
	mostHidden, shortSD = 1.5, 0.075
	// farFlat and farRound are how far noise may be shared, in coarse cells, to be distinguished from
	// slow form: a quarter of a face, 0.7 of a cylinder's radius. By simulation: less calls
	// form noise, more noise form. TestFlatnessOfPerfectFaces, TestCylindricity.
	farFlat, farRound = 2.0, 1.8
	// draws of perfect surfaces tell what range noise gives: the 95 % point is then known to
	// one part in a hundred.
	draws = 400
	// scaleCells is the scale of the noise that is learned, in coarse cells: kernels from
	// 0.4 to 5.5 cells.
	scaleCells = 2.5
)
