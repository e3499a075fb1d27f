package hole

import "math"

// The fit of an outline.
const (
	// Tuning of Tukey's biweight, in standard deviations: 95 % of the mean's efficiency on
	// normal noise (Holland and Welsch 1977).
	Tuning = 4.685
	// fitRounds of re-weighting: fits that have not settled by then are good enough to be
	// compared, and are fitted again where they are measured.
	fitRounds = 30
	// steadyScale is by what part of it the scale may still fall when a fit ends. By trial:
	// TestWhatIsFound.
	steadyScale = 1e-3
	// Settled, in parts of the half width, is a step that ends the fit of an outline that
	// is measured.
	Settled = 1e-5
	// comparedSettled, in standard deviations of a piece of the boundary, is a step that ends
	// the fit of an outline that is only compared. TestWhatIsFound.
	comparedSettled = 0.05
	// ridge, in parts of the normal equations' trace, keeps numbers that the points leave
	// open; 1e-7 moves what they tell by less than that of itself.
	ridge = 1e-7
	// mostLong is how many times its width an opening may be long; assumed.
	mostLong = 24
)

// What a scan shows of an outline, piece by piece, as natural logarithms of how many times
// likelier it is than where there is no such outline. Chosen on simulated scans:
// TestWhatIsFound, TestEndsAndCornersAreNoHoles and TestSlots in package bolt would notice.
const (
	// piecesOfCircle is into how many parts a circle's boundary is independent evidence.
	piecesOfCircle = 24
	// sharedAlong, in spacings, is how long a piece must be to have noise of its own: that of
	// fused scans is shared over 1.6 voxels. TestRimsThatShareTheirNoise.
	sharedAlong = 4
	// onOutline: the boundary is there. Off it by e it loses e²/2σ², mostOff at most.
	onOutline, mostOff = 2.0, 4.5
	// faceMeets: no boundary is seen, and the face begins where the outline is.
	faceMeets = 1.0
	// nothingSeen, and no face within reach: of a wall or disc that says nothing. A rim
	// is not looked for where there is no face, so other outlines are likelier there.
	nothingSeen, nothingAtRim = 0.0, -1.5
	// goesOn: at the end of an arc of wall another surface begins. At that of a rim it may
	// be the edge of a gap in the scan.
	goesOn, goesOnRim = -12.0, -4.0
	// perNumber is what each number of an outline costs (half the logarithm of some 50
	// independent pieces).
	perNumber = 2.0
)

// needs is the gain that an outline must have, nats: a wall is a surface already, of which
// 60 degrees do; a rim must be all but half seen, or the face come up to most of it.
const needsWall, needsRim = 8.0, 18.0

const (
	// formShare of the half width is the standard deviation by which a real opening leaves
	// its shape; ovality and lobes of drilled and punched holes, common practice, no source.
	formShare = 0.01
	// wide and near: the boundary belongs to a piece within wide of half its width, the
	// face comes up to it within near of it and two spacings.
	wide, near = 0.3, 0.2
	// openRun is how much of an outline, in circles, must show neither boundary nor face
	// to be asked what surface begins there.
	openRun = 40.0 / 360
	// longOpen is how much of an arc, rad, a wall must show not to be asked that always: a
	// slot's end is half a circle.
	longOpen = 200 * math.Pi / 180
)

const (
	// needsPlaced is the gain that a circle of known size must have where a pattern lacks a
	// hole, nats, leastPlaced the arc, rad, of which the boundary must be seen, 30 degrees, and
	// MostMisplaced how far off its place it may lie, in radii. TestHoleByItsPattern.
	needsPlaced, leastPlaced, MostMisplaced = 3.0, math.Pi / 6, 0.2
	// leastArc, rad, of a circle must show its boundary; less shows no radius.
	leastArc = math.Pi / 3
	// mostOfEnd, rad, of a circle may be seen for it to be a slot's end.
	mostOfEnd = 4 * math.Pi / 3
	// leastShown of both ends and flanks of a slot, and of each side of a rectangle.
	leastShown = 0.5
	// leastLonger is the part of its width that a slot must be longer than wide, leastSquarer
	// that of half its width that a rectangle's corners must be smaller: less is the form
	// of a drilled hole, or of a slot's end.
	leastLonger, leastSquarer = 0.05, 0.08
	// surelyLonger and surelySquarer are the same in standard deviations of a piece of the
	// boundary. A square's corners leave the circle by little: its 6 are less sure than a slot's
	// 3, but squares in rims of 8 mm at a spacing of 0.6 mm have no more. TestSlots,
	// TestRimsThatShareTheirNoise.
	surelyLonger, surelySquarer = 3, 6
	// mostIsland of an opening may be covered by the face: the scan's own outliers.
	mostIsland = 0.1
)

// Places.
const (
	// leastDisc is the radius, in cells, of the smallest disc looked at.
	leastDisc = 2
	// leastAround is how much of a disc must have the face about it.
	leastAround = 0.5
	// eroded is how wide, in parts of the widest, an opening is where it is followed.
	eroded = 0.8
)

// The edge of a face, in units of the depth of the section.
const (
	// edgeHighest is how high a triangle may begin: a wall that rises over the face is not
	// its edge.
	edgeHighest = 2
	// edgeMost is how many points are put between the ends of a triangle.
	edgeMost = 200
)

// Threads. By trial: TestThread.
const (
	// isoHeight is that of the profile in pitches, 5/8 cos 30 degrees (ISO 68-1, from memory).
	isoHeight = 0.541266
	// threadBins of the profile over one pitch.
	threadBins = 16
	// fewestThread points and fewestTurns of a thread must be seen, threadSamples points a
	// pitch.
	fewestThread, fewestTurns, threadSamples = 100, 2.0, 2.5
	// threadCoarse and threadFine bound the pitch over the diameter: ISO 261 has 0.25 (M1)
	// to 0.06 (M64 and fine pitches).
	threadCoarse, threadFine = 0.27, 0.03
	// threadSteps is how finely frequencies are tried, over what the length resolves.
	threadSteps = 4
	// threadShare of the variance must be the wave's, which must be threadClear times as
	// high as those that do not turn once, and threadHigh of its pitch: an ideal one has
	// 0.2 (ISO 68-1, a triangle 0.54 high), a smoothed one less.
	threadShare, threadClear, threadHigh = 0.3, 2.0, 0.02
)
