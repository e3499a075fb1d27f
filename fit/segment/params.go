package segment

import "math"

// Tuned constants of the search among flat panels (panels*.go): name, unit, why this
// value, and the test that would notice another.

// nodePatches and panelPatches are the sizes of the patches that suggest shapes, in nodes
// and in panels: each some three times the one before; two panels show a plane, three a
// cylinder, five a cone, nine a sphere. TestScore; TestRoundedBlockHasCylindersAndBalls.
var (
	nodePatches  = []int{14, 40, 120, 360}
	panelPatches = []int{2, 3, 5, 9, 20, 60}

	// tellingPanels of a patch tell a kind.
	tellingPanels = [...]int{planeKind: 2, cylinderKind: 3, sphereKind: 9, coneKind: 3}
)

const (
	// maxStep is the widest angle, rad, that one flat side of a curved surface may
	// span: 40 degrees and a little for rounding, so nine sides are a circle and
	// the eight of an octagon, like the six of a hexagon recess, are planes.
	// Common practice, no source. TestPrismsOfUpToEightSidesArePlanes.
	maxStep = 40.5 * math.Pi / 180

	// sharpTurn is the turn, rad, from which an edge counts as one of the part and not of
	// the tessellation of a freeform surface. Common practice, no source.
	// TestDoublyCurvedBandsAreNoConesNorCylinders.
	sharpTurn = 25 * math.Pi / 180

	// wideStep is how many usual steps a side may span: more is a flat whose two edges
	// lie on the surface, as any chord's do. TestShaftWithAFlat.
	wideStep = 1.6

	// Within undirected tolerances of an apex or an axis a corner tells no direction; a
	// surface is leastLength of them long, and no larger than mostRadius times the part.
	// A triangle is a sliver, whose normal is chance, if it is lower than sliverHeight
	// half bands, and is taken whatever its normal below sliverRounding of them. Corners
	// lineGap apart, rad, are on two straight lines. TestSliversDoNotHurt,
	// TestBlindHoleWithADrillPoint.
	undirected     = 100
	leastLength    = 20
	mostRadius     = 10
	sliverHeight   = 20
	sliverRounding = 10
	lineGap        = 1e-3

	// A rounding of three sides has sides of leastPanelArc to widestRounding, rad, alike
	// to unlikeRounding. TestCoarseRoundingOfAnEdge.
	widestRounding = 31 * math.Pi / 180
	unlikeRounding = 1.01

	// What another body cut off a surface's sides spans no more than cutStep of their
	// steps, leans no more than cutTilt times as they do (a cut piece is steeper than the
	// whole), and has an edge of cutEdge tolerances in common. TestCylinderCutOffAtAnAngle.
	cutStep = 1.05
	cutTilt = 3
	cutEdge = 10

	// coaxialPanels on one radius about a known axis are a cylinder in pieces.
	// TestTipsOfTeethAreOneCylinder.
	coaxialPanels = 4

	// A surface is a band of something doubly curved if over bandShare of an end's length
	// (edges less than endEdge, a cosine, along the surface's lines) it goes on: to panels
	// of up to faceCorners corners and bandWide times the width, which turn on bandTurn
	// times as much, or less than bandGentle, rad.
	// TestDoublyCurvedBandsAreNoConesNorCylinders, TestTurnedPartWithFillets.
	bandShare   = 0.6
	endEdge     = 0.7
	faceCorners = 64
	bandWide    = 2.5
	bandTurn    = 1.6
	bandGentle  = 3 * math.Pi / 180

	// A panel is a face if no more than faceSoft of its border turns on gently, or it is
	// faceLarge times as large as what it turns to; a lone triangle among manyPanels if no
	// more than loneSoft does. TestDoublyCurvedBandsAreNoConesNorCylinders.
	faceSoft   = 0.5
	faceLarge  = 20
	loneSoft   = 0.01
	manyPanels = 100

	// likeArea is by how many times a panel is larger than another of its surface, at most
	// mostly. TestTurnedPartWithFillets.
	likeArea = 3

	// Least that shows a curved surface beyond coincidence: straight lines, arc (rad) and
	// corners, twice what determines a cylinder; panels of a ball.
	// TestCoarseRoundingOfAnEdge, TestTipsOfTeethAreOneCylinder.
	leastLines      = 5
	leastTaper      = 0.009 // sine of a cone's half angle, 0.5 degrees
	leastPanelArc   = 20 * math.Pi / 180
	leastCorners    = 10
	leastBallPanels = 6

	// looseRoundings and looseSigmas are half the band, in tolerances and in standard
	// deviations, about a surface known from its first panels; noiseSigmas is the same in
	// the end: of 5,000 corners one in three meshes lies out by chance. TestPedestal,
	// TestDrawingWithMovedCorners.
	looseRoundings = 4
	looseSigmas    = 6
	noiseSigmas    = 4

	// Where there is noise: mostRMS is the most that the residuals of a true surface are,
	// over the noise, and mostWholeRMS of one that goes half way round; more are those of
	// one that chance lays through any corners. leastPlaneSides is how wide a plane of
	// small triangles is, in median sides: smaller ones are slices of something round.
	// leastHeight is the least of an arc over its chord, in half bands, and
	// leastNoisyCorners three times what determines a cylinder. TestThinnedScan.
	mostRMS           = 1.4
	mostWholeRMS      = 2
	leastPlaneSides   = 5
	leastHeight       = 4
	leastNoisyCorners = 15

	// learnCorners is how many corners a surface has, at least, from which the noise is
	// learnt: to a fourteenth of it. TestThinnedScan.
	learnCorners = 100

	// pieceShare is the share of a piece's panels, where there is noise, that must lie on
	// another surface for both to be one. TestThinnedScan.
	pieceShare = 0.5

	// noisyTrials end a search where there is noise: a surface of a thousandth of what is
	// free has been a seed by then. TestThinnedScan.
	noisyTrials = 4000

	// mostTilt is the most, rad, that noise may turn a panel's normal, and sliverTilt
	// what makes it useless for a closed form. TestThinnedScan.
	mostTilt   = 60 * math.Pi / 180
	sliverTilt = 58 * math.Pi / 180

	// A mesh is searched as panels if its long sides are thinnedSpread times the short ones
	// (90th over 10th percentile): a drawing's are 50 and more, those of a scan thinned to
	// 5 % by edge collapse 9, and of a scan that its maker thinned to 16,000 triangles 5.
	// Or if they are leastSpread times, a share of leastFlat of its pairs of triangles lie
	// in one plane (a drawing's cylinders have 1/3, its planes more), and of its vertices
	// no more than mostInside lie inside a flat place; a grid's sides differ by 1.4.
	// TestModelsAreTold, TestScansAreNotTakenForModels, TestThinnedScan.
	//
	// A mesh of up to thinnedPoints and leastSpread of whose area the search by points
	// explains less than poorShare, is searched as panels, too, and these count if they
	// explain betterShare more: thinned scans show 0.5 to 0.8 by points and 0.97 by panels.
	thinnedSpread = 6.5
	leastSpread   = 3.0
	thinnedPoints = 20_000
	poorShare     = 0.9
	betterShare   = 0.1
	leastFlat     = 0.15
	mostInside    = 0.3

	// leastCoplanar: one in so many pairs of a mesh's triangles lie in one plane, at
	// least; fewer than leastPairs tell no noise. mostNoise is the most noise, over the
	// median side: what is more is form, of a mesh with no plane in it. threeSigmas is by how many times more of a normal distribution lie within
	// three standard deviations than within one: 0.9973/0.6827. TestCornerNoise.
	leastCoplanar = 20
	leastPairs    = 400
	mostNoise     = 0.15
	threeSigmas   = 1.461
)
