package bolt

import "math"

// Constants of what noise makes of holes.
const (
	// likeRadius, clearGap: candidates whose largest radius is less than likeRadius times
	// the smallest have one noise, and so do those between whose radii there is no gap of
	// clearGap. Chosen: 2 is well within what the kernels of one radius cover, a bore is
	// beyond it. TestByRadius.
	likeRadius, clearGap = 2, 1.2
	// likeScatter: circles of unlike radii show one noise where the root mean squares of
	// their residuals differ by less than this ratio. On a bore two or three times as wide as
	// the holes longer waves show, of which their radii take most: it scatters 1.2 to 2.1 times
	// as much. StudyFormedHoles, oval flange.
	// unlikeScatter, scatterGap: circles of like radii have one noise but where the largest
	// scatter is unlikeScatter times the smallest, with a gap of scatterGap between. Few waves
	// as long as the radius go round, and by chance alone the ratio reaches 2.5.
	// TestFormOfOneIsNoNoiseOfOthers.
	likeScatter, unlikeScatter, scatterGap = 2.5, 3, 1.8
	// alikeRadii is the ratio of radii up to which holes are of one drill. Common practice.
	alikeRadii = 1.02
	// fewestRows of a wall are enough to say how its axis leans. By trial. TestLean.
	fewestRows = 3
	// wallSample is how many points about a wall are looked at: more tell the axis better by
	// less than a hundredth of their noise.
	wallSample = 40_000
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

// Constants of what is one hole. All by trial: TestOneHole.
const (
	// sameWay, rad: faces within it look one way; 5 degrees, as a square axis may be off.
	sameWay = 5 * math.Pi / 180
	// offAxis is how far apart two axes may be, in radii of the narrower, and be one.
	offAxis = 0.3
	// wider is from how many times a hole's radius a part of it is wider, not the same.
	wider = 1.05
	// narrowSink and wideSink, rad, bound the half angle of a countersink: 60 to 120
	// degrees are made (ISO 15065, 90 for metric heads; from memory), 10 more for noise.
	narrowSink, wideSink = 25 * math.Pi / 180, 65 * math.Pi / 180
	// floorWide is the part of a hole's radius in which a floor is looked for, clear of
	// the rounded corner; fewestFloor points of it and floorShare of what the scan's
	// spacing would put there must be seen.
	floorWide, fewestFloor, floorShare = 0.7, 6, 0.3
	// pointed is the slope from which a floor is a drill's point (118 degrees has 0.6).
	pointed = 0.25
)

// Constants of slots and rectangles. TestSlots.
const (
	// mostCells and fewestCells are into how many cells an outline is divided at most and at
	// least: enough for its six numbers, few enough to be independent.
	mostCells, fewestCells = 32, 16
	// endHalf, rad, is how much of a slot's end is used either side: the rest is left to the
	// flanks.
	endHalf = 85 * math.Pi / 180
	// longShare is the part of the noise's variance in waves as long as a side: 0.4 in
	// simulated fused scans, assumed a little more.
	longShare = 0.5
)

// minorU, in pitches, is the standard uncertainty of a tapped hole's minor diameter: its
// crests are an eighth of a pitch wide (ISO 68-1, from memory), and smoothed. TestTapped.
const minorU = 0.15
