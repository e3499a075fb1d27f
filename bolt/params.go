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
	// leastVariance is the share of a covariance's trace by which its smaller eigenvalue may be
	// below zero: well above rounding, 1e-16. TestClockRefusesNoCovariance.
	leastVariance = 1e-9
	// alikeRadii is the ratio of radii up to which holes are of one drill. Common practice.
	alikeRadii = 1.02
	// boreOffCentre of the pitch circle's radius is how far the bore lies off its centre, at
	// most, and boreLeast of the largest hole's radius how large it is, at least. Common practice,
	// no source. TestBoreMeetsTheFace.
	boreOffCentre, boreLeast = 0.2, 0.6
	// fewestRows of a wall are enough to say how its axis leans. By trial. TestLean.
	fewestRows = 3
	// leastTilt is the chi-squared of an axis' tilt, of two degrees of freedom, from which it is
	// significant: by chance once in a thousand, exp(-leastTilt/2). TestTiltedHoles.
	leastTilt = 13.8
	// wallSample is how many points about a wall are looked at: more tell the axis better by
	// less than a hundredth of their noise.
	wallSample = 40_000
	// faceSample is how many points of a face are looked at for its noise, and faceBand how
	// far they may be off it, in standard deviations of the noise. Speed; by trial.
	faceSample, faceBand = 40_000, 5
)

// Constants of walls and rims.
const (
	// minFace is the number of points below which a plane is no face for holes, and leastRing
	// the area of a face over a hole's own, below which it is too little to be the hole's
	// face. By trial. TestMeasureCallsOnlyHolesRound.
	minFace, leastRing = 30, 0.3
	// mostlyRound is the arc, rad, from which a wall is a hole's though its section has no
	// name: 240 degrees, between a printed roof of 90 degrees and a wall open to one side.
	// TestTeardropOfADrawing.
	mostlyRound = 4 * math.Pi / 3
	// mostCorner is the arc, rad, up to which a wall seen from outside is no stud: corners of
	// plates show 90 degrees, rounded ends 180. TestBowedPlateOnATurntable.
	mostCorner = 200 * math.Pi / 180
	// leastAround is the least share of the directions about a hole or slot in which its face
	// must lie: a quarter, for one in a corner. By trial. TestMeasureCallsOnlyHolesRound.
	leastAround = 0.25
	// mostDraft is the half angle, degrees, up to which a tapered wall is that of a hole:
	// draft angles of castings are 0.5 to 3 degrees; common practice, no source.
	// TestBoreWithADraft.
	mostDraft = 3.5
	// leastArc is how much of a wall, rad, must be seen for it to be a hole; leastRimArc of a
	// rim: of 90 degrees a rounded one, which reads wide, shows somewhat more than 70.
	// rimPoints is the least number of its points. TestWhatIsFound.
	leastArc, leastRimArc, rimPoints = math.Pi / 3, 70 * math.Pi / 180, 12
	// arcBins is the number of bins round a circle, and noiseBins of those that noise is
	// learned on and carried through: what moves a circle is the noise's slow part, and
	// likelihood over fine bins would choose the kernel by its fast part. A wall has mostRows
	// of such cells at most, of cellPoints points or more in the mean. TestLean.
	arcBins, noiseBins, mostRows, cellPoints = 48, 24, 4, 3
	// edgeSample is how many points of a rim the width of the rounding is found by. Speed.
	edgeSample = 1000
	// leastSlope is the least part of a rounded edge's normal along the radius for a point to
	// say where the wall is: flatter ones say it by their height, which long waves of the
	// noise move for all of them together. TestFitEdgeFindsTheWall.
	leastSlope = 0.5
	// edgeScatter is the scatter of a rim's points about the profile of its edge, in standard
	// deviations of the noise, beyond which it has another: where a sheet is hardly thicker
	// than its edges are round. Elsewhere it is 1 to 2. TestRimOfACoarseScan.
	edgeScatter = 2.5
	// edgeMisfit, in widths of the rounding, is the largest bias of a rim about the profile of
	// its edge that passes for none: root mean square of the mean residuals at misfitBins
	// heights, half a width each. In simulated scans it is 0.01 on thick parts, 0.05 and more on
	// sheets up to 5 widths thick. biasShare is the part of the noise's variance that passes
	// besides: where walls are missing, noise decides which points there are. One residual in
	// sharedNoise is independent. A height counts if it has fullBin of the most points.
	// A sheet's wall up to lowWall widths high is measured by its rim: the rounding reaches 3
	// widths from either edge. TestLowWallOfASheet.
	edgeMisfit, misfitBins, biasShare, sharedNoise, fullBin, lowWall = 0.03, 5, 0.25, 5, 0.6, 6
	// leastGain is the relative drop in variance below which a wall's rim is not used: its
	// standard uncertainty falls by three tenths. The bound holds whatever they share, but of
	// a wall seen all round the estimate is worse than the wall's, on bowed faces by half.
	// StudyFormedHoles.
	leastGain = 0.5
	// farApart is the chi-squared, of two degrees of freedom, beyond which it is said that a
	// rim is not about its wall's axis: even with uncertainties a quarter too small only two
	// of 10,000 sound holes pass it, exp(-30·0.75²/2). TestRimBesideItsWall.
	farApart = 30
	// discSectors is how many gaps are measured round an empty disc of a cloud. Few: the gaps
	// shrink faster than the number of points does. TestDiscsOfACloud.
	discSectors = 24
	// facePoints is how many of a cloud's points of a face are looked at one by one, and up to
	// twice as many; all of them say what the face covers. bucketCells is the number of cells,
	// about, that points are sorted into, and lookEvery that of points between two looks at
	// the context. Speed.
	facePoints, bucketCells, lookEvery = 200_000, 300_000, 1 << 16
)

// Constants of patterns.
const (
	// sameSide, rad, is how far the axes of one pattern's holes may differ: faces that are
	// parallel as made are so within a degree. TestPatternOnSeveralFaces.
	sameSide = 2 * math.Pi / 180

	// sameDrill is the least standard deviation, mm, allowed between the radii of holes of one
	// pattern: one drill makes holes of one diameter within a few hundredths of a millimetre
	// (common practice, no source).
	sameDrill = 0.005

	// numberFrom is how much short of a whole turn, rad, still counts as the direction that
	// holes are numbered from: rounding, not measurement. TestNumbering.
	numberFrom = 1e-9

	// sameDiameter is the part by which diameters of holes that share a radius may differ.
	// TestSharedRadiusOfUnlikeHoles.
	sameDiameter = 0.04

	// minNamed is the probability below which a reading is in doubt and the next ones are
	// listed beside it. StudyNominal of package pattern.
	minNamed = 0.9

	// mostReadings of a nominal are listed, those of at least leastReading. TestSpacing.
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
	// endHalf, rad, is how much of a slot's end is used either side: the rest is left to the
	// flanks.
	endHalf = 85 * math.Pi / 180
	// leastDepth is that of a drawing's opening over half its width.
	leastDepth = 0.1
)

// minorU, in pitches, is the standard uncertainty of a tapped hole's minor diameter: its
// crests are an eighth of a pitch wide (ISO 68-1, from memory), and smoothed. TestTapped.
const minorU = 0.15
