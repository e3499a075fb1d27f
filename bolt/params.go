package bolt

import "math"

// Constants of what noise makes of holes.
const (
	// likeRadius, clearGap: candidates whose largest radius is less than likeRadius times
	// the smallest have one noise, and so do those between whose radii there is no gap of
	// clearGap. Chosen: 2 is well within what the kernels of one radius cover, a bore is
	// beyond it. TestByRadius.
	likeRadius, clearGap = 2, 1.2
	// alikeRadii is the ratio of radii up to which holes are of one drill. Common practice.
	alikeRadii = 1.02
	// fewestRows of a wall are enough to say how its axis leans. By trial. TestLean.
	fewestRows = 3
	// faceSample is how many points of a face are looked at for its noise, and faceBand how
	// far they may be off it, in standard deviations of the noise. Speed; by trial.
	faceSample, faceBand = 40_000, 5
)

// Constants of patterns.
const (
	// sameSide, rad, is how far the axes of one pattern's holes may differ: faces that are
	// parallel as made are so within a degree. TestPatternOnSeveralFaces.
	sameSide = 2 * math.Pi / 180

	// sameDiameter is the part by which diameters of holes that share a radius may differ.
	// TestSharedRadiusOfUnlikeHoles.
	sameDiameter = 0.04

	// minNamed is the probability below which a reading is in doubt and the next ones are told
	// beside it. StudyNominal of package pattern.
	minNamed = 0.9

	// mostReadings of a nominal are told, those of at least leastReading. TestSpacing.
	mostReadings = 3
	leastReading = 0.01
)
