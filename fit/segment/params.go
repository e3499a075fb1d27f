package segment

import "math"

// Tuned constants of the search among flat panels (panels*.go): name, unit, why this
// value, and the test that would notice another. The long TestStudyScore (build tag study) is
// named where the short tests were seen to be too coarse, or are likely to be.

// nodePatches and panelPatches are the sizes of the patches that suggest shapes, in nodes
// and in panels: each some three times the one before; two panels show a plane, three a
// cylinder, five a cone, nine a sphere. exactPatches are so in points: few enough to lie
// on two or three surfaces. TestScore; TestRoundedBlockHasCylindersAndBalls; TestScoreCAD.
var (
	nodePatches  = []int{14, 40, 120, 360}
	panelPatches = []int{2, 3, 5, 9, 20, 60}
	exactPatches = []int{25}

	// tellingPanels of a patch tell a kind.
	tellingPanels = [...]int{planeKind: 2, cylinderKind: 2, sphereKind: 9, coneKind: 3}

	// priors weigh the score of a kind: the simpler shape wins where both explain the same
	// nodes. Chosen by the score. TestScore, TestScoreCAD.
	priors = [...]float64{planeKind: 1, cylinderKind: 0.8, sphereKind: 0.75, coneKind: 0.7}

	// mostRMS is the most that the residuals of a true surface are, over the noise; more
	// are those of one that chance lays through any corners. TestThinnedScan.
	mostRMS = [...]float64{planeKind: 1.4, cylinderKind: 2, sphereKind: 1.4, coneKind: 1.4}
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
	// steps, leans no more than half a step and cutTilt, rad, and has an edge of cutEdge
	// tolerances in common. TestCylinderCutOffAtAnAngle.
	cutStep = 1.05
	cutTilt = 1e-3
	cutEdge = 10

	// A surface is a band of something doubly curved if over bandShare of its panels go on:
	// to panels like them, whose far edge, parallel to a cosine of bandEdge, turns bandTurn
	// times as much at most, or less than bandGentle, rad.
	// TestDoublyCurvedBandsAreNoConesNorCylinders, TestTurnedPartWithFillets.
	bandShare  = 0.6
	bandEdge   = 0.8
	bandTurn   = 1.6
	bandGentle = 3 * math.Pi / 180

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

	// Least that shows a curved surface beyond coincidence: sides, arc (rad) and corners,
	// twice what determines a cylinder; panels of a ball.
	// TestCoarseRoundingOfAnEdge, TestTipsOfTeethAreOneCylinder.
	leastSides      = 4
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

	// Where there is noise: mostArcRMS is the most that the residuals of a cylinder are, over
	// the noise, that does not go half way round. leastPlaneSides is how wide a plane of
	// small triangles is, in median sides: smaller ones are slices of something round.
	// leastHeight is the least of an arc over its chord, in half bands (of points, too, see
	// accept.go), and leastNoisyCorners three times what determines a cylinder.
	// TestThinnedScan.
	mostArcRMS        = 1.4
	leastPlaneSides   = 5
	leastHeight       = 4
	leastNoisyCorners = 15

	// learnCorners is how many corners a surface has, at least, from which the noise is
	// learnt: to a fourteenth of it. TestThinnedScan.
	learnCorners = 100

	// mostRefused supports may come to nothing before those that are no surface by
	// themselves are no longer completed by panels from all over the part: each time costs
	// a look at all panels. TestTipsOfTeethAreOneCylinder.
	// Each of completeTurns looks reaches about twice as far.
	mostRefused   = 4000
	completeTurns = 6

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
	// Or if they are leastSpread times (a grid's 1.4 times) and a share of leastDrawn of its
	// vertices lie on edges of flat sides, beyond which a triangle leaves the plane by
	// bentRoundings tolerances.
	// TestModelsAreTold, TestScansAreNotTakenForModels, TestThinnedScan.
	//
	// A mesh of up to thinnedPoints and leastSpread of whose area the search by points
	// explains less than poorShare, is searched as panels, too, and these count if they
	// explain betterShare more: thinned scans show 0.5 to 0.87 by points and 0.97 by panels,
	// a true scan of a board with form 0.84 and 0.87. TestRealBoardShowsItsTop.
	thinnedSpread = 6.5
	leastSpread   = 3.0
	thinnedPoints = 20_000
	poorShare     = 0.9
	betterShare   = 0.1
	leastDrawn    = 0.5
	bentRoundings = 20
	leastScan     = 100    // vertices of a mesh that may be a scan
	drawnSample   = 2000   // vertices looked at: a share is told to 0.01. Speed.
	sideSample    = 20_000 // triangles whose sides are measured. Speed.
	shortSides    = 0.1    // share of the sides that are short, and that are long

	// A vertex lies on a surface within pointRoundings of the largest rounding in space, or
	// pointShare of the part: common practice of modellers, no source. Two triangles show
	// no noise that are so thin that the sine of their angle, squared, is below sliverPair:
	// it is rounding of double precision. TestCornerNoise, TestFewDecimalsAreStood.
	pointRoundings = 3
	pointShare     = 1e-6
	sliverPair     = 1e-12

	// A panel's plane is fitted anew when its area is levelGain times that of the last fit.
	// A surface grows by panelGain times its panels, its seeds and panelRoom between two
	// fits, and takes a panel one in cornersOff of whose corners lie off it.
	// Chosen by the score. TestScoreCAD, TestThinnedScan.
	levelGain  = 2
	panelGain  = 2
	panelRoom  = 4
	cornersOff = 3

	// leastCoplanar: one in so many pairs of a mesh's triangles lie in one plane, at
	// least; fewer than leastPairs tell no noise. mostNoise is the most noise, over the
	// median side: what is more is form, of a mesh with no plane in it. threeSigmas is how
	// many times more of a normal distribution lie within three standard deviations than
	// within one: 0.9973/0.6827. TestCornerNoise.
	leastCoplanar = 20
	leastPairs    = 400
	mostNoise     = 0.15
	threeSigmas   = 1.461

	// formSample is how many points of a surface say what kind of form it has: some 2
	// million pairs, 10 ms. Of a cylinder with less than formArc, rad, a harmonic and the
	// place of the axis are not distinguished. TestFormKind.
	formSample = 2000
	formArc    = 1.5 * math.Pi

	// mostLobes is the highest harmonic that is called lobes. draftModes is the most half
	// waves of form that a taper is compared with: 16 waves. draftGain is that of one by
	// chance in 300,000, of F with 1 and 16 degrees of freedom; noise of small walls is red,
	// and reaches 49 in 1 of 500, drafts of 0.5 degrees 80. TestDraft.
	mostLobes  = 6
	draftModes = 4
	draftGain  = 50

	// Form is of the kind whose terms take one in formMost parts of it, at least: half, by
	// definition (no test is near enough to notice). A saddle's lesser curvature is one in
	// saddleRatio parts of the greater. TestFormKind, TestFormsByHand.
	formMost    = 2
	saddleRatio = 4

	// A texture's correlation is looked at up to one in textureReach parts of an extent of
	// textureLeast spacings or more; its length is textureNear spacings at least. Below,
	// neighbours are too few to distinguish it from noise. TestFormKind.
	textureLeast = 16
	textureReach = 2
	textureNear  = 2
)

// What makes a support a surface (accept.go). TestScore; dust: TestDustShowsNoSurface.
const (
	// A cloud of dust has planes and balls through any of its points, so that a surface of
	// a cloud must be a sheet: the points near it lie on it, not all round.
	sheetShare  = 0.6     // of the points near by, beyond chance, that lie on it, at least
	sheetBands  = 3       // radius of what is near by, half widths of the band, at least
	sheetOdds   = 10      // logarithm of the odds against chance, at least, of thousands of trials
	sheetPoints = 12      // points near by, about, on average, at least
	sheetNodes  = 100     // nodes of a support that are looked about
	sheetLeast  = 80      // nodes, at least, where the band is wider than the points are apart: fewer are clusters
	sheetWidth  = 8       // narrowest width of a surface, half widths of the band
	sheetSample = 100_000 // points of a cloud that are looked at

	// A strip along a round edge is at most edgeWidth wide, pitches, and edgeLong times as
	// long; its axis is off the edge's by more than edgeParallel, a cosine.
	// TestTappedHolesHaveWalls.
	edgeWidth    = 6
	edgeLong     = 2
	edgeParallel = 0.95

	// leastWidth lies between two values, pitches, that of exact points and that of noisy
	// ones, whose noise's band is smallNoise pitches wide or more: the root of it is the
	// width of a rounded edge in the band. All are chosen by the score.
	// planeExact: TestSurfacesAmidDust; the others: TestStudyScore.
	smallNoise  = 0.1
	planeExact  = 2 // of a plane's width
	planeNoisy  = 5
	ringNoisy   = 4   // the same of a ring about a known axis
	radiusExact = 1.5 // of a cylinder's radius, and of a cone's in its middle
	radiusNoisy = 2.5
	bandExact   = 1.8 // of the length of a wall along its axis, or of a cone's slope
	wallNoisy   = 3   // of a cylinder
	coneNoisy   = 4   // of a cone
	flatGain    = 2   // by which these are larger of a cone near a plane or a cylinder (flatCone)
	wallArc     = 5   // arc of a cylinder, pitches, at least
	coneArc     = 4   // the same of a cone
	ballRadius  = 3   // of a sphere, pitches, at least
	ballReach   = 0.5 // rad, from its middle that a sphere goes on to, at least: 29 degrees
	boxFill     = 2   // area of the box about a plane over the plane's, at most: an L, a ring
	denseShare  = 0.3 // of a surface's area that its nodes cover, at least

	// A slender cone is taperLength pitches long or more, and its radius grows over this by
	// taperRise standard deviations. TestStudyScore.
	taperLength = 8
	taperRise   = 6

	// A bend leaves the plane by bentBands half widths, at least, exactBent times that in an
	// exact cloud, and goes on over leastArc, rad: less is a sliver. Chosen by the score.
	// TestStudyScore, TestStudyScoreCAD.
	bentBands = 0.5
	exactBent = 8
	leastArc  = 15 * math.Pi / 180

	// What a scanner makes of a sharp edge is narrower, pitches, than roundedWidth, of a cone
	// roundedCone times that, in an inner corner roundedCorner. A cone goes coneTurn, rad,
	// round its axis or has coneNodes. Chosen by the score. TestStudyScore.
	roundedWidth  = 8
	roundedCone   = 2
	roundedCorner = 6.5
	coneTurn      = 2 * math.Pi / 3
	coneNodes     = 400

	// One in endCut of the points is left out at either end of a width, for rounded edges;
	// endsLeft of an even one remains. Of a length it is one in astrayCut, for points
	// astray. TestStudyScore.
	endCut    = 20
	endsLeft  = 1 - 2.0/endCut
	astrayCut = 100

	// An arc is measured by sectorsLeast to sectorsMost sectors, of 30 to 5 degrees, with
	// sectorPoints each, on average; a band's height by as many with bandPoints, of which
	// bandLeast must be there. Chosen by the score. TestStudyScore.
	sectorsLeast = 12
	sectorsMost  = 72
	sectorPoints = 3
	bandPoints   = 8
	bandLeast    = 3

	// searchedWidth is how wide, in nodes of the level before, a surface is that it
	// cannot have missed: twice what makes the narrowest plane there.
	searchedWidth = 10
)

// Slices of freeform surfaces, pitches and shares (ends.go). TestScore, TestSurfacesComeApart.
const (
	ringSteps = 2    // steps over the graph from a surface's border outward
	ringPitch = 4.0  // how far that leads, in pitches
	fadeShare = 0.35 // of the ring that may go on smoothly
	wholeTurn = 300 * math.Pi / 180
	// flatCone is the cosine of the half angle, 70 degrees, of a cone whose border is looked
	// at; one within 20 degrees of a plane or a cylinder must be wider (accept.go).
	flatCone   = 0.34
	fadeCos    = 0.94 // between normals where a surface goes on, 20 degrees
	fadeLarger = 2    // by how many times a face has more nodes than the slice it bounds
	fadeBorder = 4    // nodes at the border, over the root of all: those of a square
	fadeHalf   = 2    // half width of a surface, pitches, at least
	fadeSlack  = 1.5  // by which a node beyond the border may lie farther off than the bend
	fadeForm   = 3    // heights of form that it may lie off
	fadePower  = 4    // of the distance, at most; that of a bend is 2
)

// The final fit, points (finish.go). TestScore, by parameter errors over uncertainty.
const (
	// fitPoints is how many points of a surface its fit looks at, and up to twice
	// as many: more would tell it better than by a hundredth of the noise, which
	// is beyond what scanners are true to.
	fitPoints = 15_000
	// extentPoints is how many points, and up to twice as many, say how long and how far
	// round a surface is. Speed.
	extentPoints = 20_000

	// narrowShare is the least share of the points of a surface that are away from its
	// edge where it goes less than narrowArc, rad, round its axis; of a sphere always.
	// Roundings of edges have 0 to 0.01, corners of pockets 0.13. TestTappedHolesHaveWalls.
	narrowShare = 0.04
	narrowArc   = 170 * math.Pi / 180

	// leastPoints is the least number of points that make a surface, where there is
	// noise.
	leastPoints = 24

	// A surface is fitted to the points away from its edge if these are interiorShare of
	// all and interiorLeast or more.
	interiorShare = 1.0 / 3
	interiorLeast = 30
)

// Form: lengths in mm, angles in rad (form.go). Chosen by the score, TestFormedFacesAreWhole.
const (
	stepSlope  = 0.05                // of a link's length that it may climb beyond the noise
	linkCos    = 0.7                 // between normals of a smooth link
	formLimit  = 0.01                // height of form over the extent of the surface
	formTilt   = 8 * math.Pi / 180   // of a normal, averaged over the links, at most
	meanTilt   = 2.5 * math.Pi / 180 // root mean square of the same over the surface, at most
	kinkTilt   = 2 * math.Pi / 180   // between two surfaces that are pieces of one
	formGain   = 1.5                 // by which one more parameter must lower the root mean square
	formLeast  = 200                 // nodes of a surface with form
	smoothTurn = 2                   // rounds of averaging of the normals

	// The border is looked at from openLeast smooth nodes on; two surfaces touch on more than
	// linksLeast links, of which less than one in kinkFew has a kink. A surface that grows on
	// is extendGain times as large, or stays as it was. All chosen by the score.
	openLeast  = 10
	linksLeast = 10
	kinkFew    = 4
	extendGain = 1.05
	formSteps  = 14 // turns of growing, at most: growSteps and two

	openShare = 0.02 // of a border that is smooth, at least, for a surface to grow on
	bitShare  = 0.6  // of a piece's nodes that are taken, at least, for it to be one
)

// Fits of the search, iterations (surface.go, others.go). Speed; TestScore.
const (
	refitSteps = 6  // of a surface that grows: the next turn goes on
	otherSteps = 30 // of another kind on the same nodes

	// otherSample is how many nodes another kind is fitted to. supportSample is how many
	// of a support stand for all of it, its normals, its spread and its flanks: a spread
	// is told to a twentieth.
	otherSample   = 300
	supportSample = 400

	// A cylinder is a cone's start with this taper, sine and cosine of 3 degrees: small
	// beside any angle looked for, large beside the steps' rounding. TestStudyScore.
	taperSin = 0.05
	taperCos = 0.99875
)

// Growth of a support (grow.go, form.go). Chosen by the score: TestStudyScore.
const (
	growSample  = 1500 // nodes of a support that are fitted. Speed.
	trialSample = 300  // the same in a trial
	growSteps   = 12   // turns of growing, at most: by then it holds 6^12 nodes or wavers
	firstRoom   = 4    // by how many times a support is larger than its seeds after a turn
	roomGain    = 6    // by how many times more room it has in the next
	settled     = 50   // a turn that adds less than one in so many nodes is the last
	overParams  = 2    // nodes over parameters of a shape, at least
	leastKept   = 2    // a shape keeps one in so many of the nodes it starts from, at least

	// A narrow strip is fitted to the nodes away from its border, if these are more than one
	// in coreFew, coreLeast or more, and no more than coreIn in coreOf.
	coreFew   = 5
	coreLeast = 30
	coreIn    = 3
	coreOf    = 4

	// Nodes beside a support, up to flankBands half widths off: within the band are
	// standsRatio times as many as in a flank (chance: twice), by standsSure standard
	// deviations; standsKnown times about a known axis. TestPointsOnFacets.
	flankBands  = 2
	standsRatio = 4
	standsSure  = 3
	standsKnown = 1.5
)

// About axes that are known (coaxial.go). Chosen by the score: TestStudyScore.
const (
	// oneDirection is the cosine between two directions that are one, 2.6 degrees.
	oneDirection = 0.999

	nearAxis    = 2    // pitches from an axis within which nodes tell nothing about it
	meridianOff = 0.2  // sine of a normal's angle to the plane through the axis, at most
	ringCos     = 0.99 // between the axis and the normal of a ring, at least, 8 degrees

	// Directions are counted in meridianBins of 4 degrees; meridianTurns of them are looked
	// at, each with what lies within one and a half bins of its middle, and a hundredth
	// for rounding.
	meridianBins  = 90
	meridianTurns = 8
	meridianReach = 3 * math.Pi / meridianBins * 1.01

	lineStraight = 0.1 // sine of the angle, 6 degrees, within which a cone is a cylinder or plane
	lineStarts   = 4   // surfaces of one direction that are looked for
)

// Walls rougher than form, as of tapped holes (formwall.go). TestTappedHolesHaveWalls, TestScore.
const (
	roughSample = 1500 // nodes of a piece that are fitted
	roughStart  = 0.3  // root mean square over the radius of a piece with its chamfers, at most
	roughTurns  = 5    // fits of a piece, each less its ends
	roughOff    = 0.35 // root mean squares that a ring at an end is off, which is no part of it
	mostRough   = 0.1  // root mean square over the radius, at most; of metric threads 0.05 to 0.07
	roughLong   = 8    // length of a wall, pitches of the nodes, at least
	roughCells  = 3    // parts of its length, and of half a turn, that it averages out over
	roughLeft   = 0.35 // of the root mean square that may be left by that; of a fillet 0.9
	roughFacing = 0.4  // mean cosine between normals and radii, at least; flanks have 0.5
	roughAstray = 50   // one in so many points may lie beyond the band of a wall
	roughCos    = 0.2  // cosine between the normals of point and wall, at least
)

// The graph of nodes, and seeds (graph.go). TestNodesLieBesideTheirNeighbours, TestScore.
const (
	// degree is the number of neighbours of a node in the graph: three rings of a
	// square grid hold 8, 12 bridges a dropped node here and there.
	degree = 12

	// reachPitch is the distance to the sixth neighbour over that to the nearest,
	// on a surface sampled about evenly.
	reachPitch = 1.4

	// gapReach is how many times its ends' reach an edge is that crosses a gap.
	gapReach = 3

	// nodeChunk is how many nodes or triangles are looked at, a millisecond or so,
	// between two looks at the context. Speed.
	nodeChunk = 4096

	// Of a seed's seedNeighbours nearest (more would reach round a narrow bore), of which
	// leastSeen must be there, seedShare face as it does and lie in its tangent plane: no
	// farther off than seedSlope of their distance, as the bend of the narrowest bore
	// brings them, or than besideBands half widths.
	seedNeighbours = 8
	leastSeen      = 4
	seedShare      = 0.6
	seedSlope      = 0.35
	seedReach      = 2 // pitches to the farthest of a seed's neighbours whose distance counts

	// What lies within besideBands half widths of a surface, or roundedSpacings of its
	// points' distance, is noise's tail and the rounding of its edges.
	besideBands     = 1.5
	roundedSpacings = 0.75

	// Two normals are of one smooth place if the cosine between them exceeds
	// likeNormals, 37 degrees; a point may be of a surface, with a coarse normal, if it
	// exceeds facesCos, 45 degrees; below opposite, 154 degrees, they are of two sides.
	likeNormals = 0.8
	facesCos    = 0.7
	opposite    = -0.9
)

// Floating pieces (junk.go). TestOpenSpecksAreJunk.
const (
	// junkShare is the largest share of the mesh's triangles that a loose piece may
	// have and still be taken for junk.
	junkShare = 0.02

	// A blob is less than blobSpacings across along each axis, blobShare of its normals
	// point away from its middle, and their least variance exceeds blobVariance, a third
	// of a ball's.
	blobSpacings = 15
	blobShare    = 0.9
	blobVariance = 0.12
)

// Joining of pieces (merge.go). TestOnlyWhatCannotBeOneIsNotFitted, TestNarrowFaces, TestScore.
const (
	// mergeSample is how many points of a piece a trial merge looks at.
	mergeSample = 600

	// closeRMS is how much farther than on a true surface of the size the points of a
	// piece may lie off the surface that it is to be part of.
	closeRMS = 1.8

	// Of closeMean of what is expected, and on a cylinder closeRadius of its radius, the
	// mean of a piece's distances may be, at most: pieces of a step are off to one side.
	closeMean   = 1.2
	closeRadius = 0.01

	// Two pieces of one surface have directions within joinTilt, rad, and radii alike to
	// joinRadius; of two kinds, the smaller is a strip of a stripSmaller-th of the other.
	joinTilt     = 12 * math.Pi / 180
	joinRadius   = 0.15
	stripSmaller = 4

	// One in fewStep of the sample, fewLeast or more, tells pieces that are none of one
	// surface before all of it is fitted: they lie fewRMS times farther off than close
	// allows.
	fewStep  = 10
	fewLeast = 60
	fewRMS   = 3

	// Of facesSample points facesShare must face as the surface does.
	facesSample = 100
	facesShare  = 0.8

	// A bump or strip is at most an absorbSmaller-th of its surface, which holds absorbShare of
	// absorbSample points of it, in the box of boxSample of its own, boxMargin spacings
	// wider.
	absorbSmaller = 3
	absorbShare   = 0.75
	absorbSample  = 200
	boxSample     = 2000
	boxMargin     = 2
)

// Thinning (nodes.go). TestSameOnAnyNumberOfCores.
const (
	// thinChunk is how many picks are added up by themselves, whatever the number
	// of goroutines, so that sums are added in one order; some milliseconds.
	thinChunk = 1 << 17

	// A cloud is dense if the median cell of several points holds denseCell; there a
	// point is astray if the cells round it hold aloneMost points or fewer, with it.
	// TestPointsAstrayMakeNoNodes.
	denseCell = 4
	aloneMost = 2
)

// Patches (patch.go). TestScore.
const (
	// creaseCos is the cosine of the angle between neighbouring normals, 22
	// degrees, beyond which a patch does not go on.
	creaseCos = 0.927

	// curvedSpread is the spread of a patch's normals, rad, 1 degree, below which
	// nothing curved is worth a try.
	curvedSpread = 0.02
)

// Progress (segment.go), shares of the work by a large scan's times. TestProgress.
const (
	progressTotal = 100
	progressRate  = 10   // reports a second, at most: what an eye follows
	shareBefore   = 0.05 // before the first level
	shareLevels   = 0.85 // of all levels
	shareLeft     = 0.3  // of what is left of that, after each level
)

// What neighbours share (finish.go). TestLongWavesCount, TestScore.
const (
	// How far along the surface neighbours share their error shows in the residuals of
	// all surfaces of a scan together, as a sum of normal kernels of their distance (see
	// fit.Covariogram). A fit takes out the slowest of the waves, so that distances count
	// up to a quarter of a surface only.
	reachPart    = 4   // one in so many parts of an extent, up to which distances count
	reachRegions = 16  // surfaces looked at, the largest
	reachLeast   = 400 // points of one
	reachSample  = 500 // points of one whose pairs are looked at
	reachBins    = 20
	reachPairs   = 50  // pairs of a bin, at least
	reachSure    = 4   // standard errors by which what is shared must stand out
	pooledRange  = 4   // from the nearest distance to the farthest, at least
	pooledRatio  = 1.7 // from one kernel's length to the next

	wavesSample = 2000 // points of a plane that show its waves, at least
	wavesRange  = 8    // from the nearest distance of them to the farthest, at least
)

// The levels of a search (segment.go). TestMorePointsThanMakeNodes, BenchmarkSegment.
const (
	nodeTarget   = 60_000  // nodes that a level aims at
	lastNodes    = 300_000 // nodes of the last level, at most about
	samplePoints = 1 << 19 // points that make the nodes of the first level
	lastLevel    = 2       // number of the last level at most, from 0. Speed.
	lookEvery    = 1 << 15 // points between two looks at the context
	fewestPoints = 8       // points that are left for another level, at least

	// Cells of a level, in spacings or of the cells before: a level is the last where they
	// would be smaller than lastCell, or than finerCell of those of the level before. Its
	// own are leastCell or more.
	lastCell  = 1.3
	finerCell = 0.6
	leastCell = 0.5

	mostUneven  = 1.5 // mean distance of points over their median, at most, of an even scan
	leastUneven = 1.5 // distance of a mesh's nodes over their median, at least, that is a gap
	unevenGain  = 1.2 // the same over their unevenShare quantile
	unevenShare = 0.9

	leastBand    = 0.04 // half width of a band, spacings, at least
	scanRounding = 4e-7 // the same over the scan's diagonal: a few units of single precision

	laterTrials  = 16 // by how many times fewer trials a later level looks for large surfaces
	formTrials   = 4  // the same for surfaces with form
	axisSpacings = 2  // distance between axes that are one, spacings
	axisNodes    = 60 // of a narrow surface about a known axis, at least
	smallNodes   = 30 // of surfaces of small holes, at least: what fails then fails for good
)

// passes are turns of a level's search: surfaces of so many nodes, and trials at most.
// large ones may have form; axes of what was found by then are looked about; the last
// level only asks for the smallest. TestScore.
var passes = [...]struct {
	nodes, trials     int
	large, axes, last bool
}{
	{nodes: 1000, trials: 256, large: true},
	{nodes: 200, trials: 1024, large: true, axes: true},
	{nodes: smallNodes, trials: math.MaxInt, axes: true},
	{nodes: 16, trials: math.MaxInt, last: true},
}

// Shapes (surface.go), sines and cosines of a cone's half angle. TestScore, TestPanelCones.
const (
	// A cone is as good as a cylinder or a plane beyond 0.3 and 82 degrees, and near a
	// cylinder, as drafted and tapered walls are, below 4.
	extremeSin, extremeCos = 0.005, 0.14
	slenderSin             = 0.07
	// What a scan could show at all: 0.2 to 89 degrees.
	saneSin, saneCos = 0.003, 0.02
)

// Trials (search.go). TestScore.
const (
	batchSize  = 64   // trials on one snapshot of the labels, whatever the number of cores
	largeBatch = 12   // the same where surfaces are so large that most trials find the same few
	trialLimit = 1200 // nodes a trial grows to before it competes

	largeNodes = trialLimit / 2 // nodes of surfaces from which batches are large

	// A node's normal is off its surface's by nodeTilt degrees at most, less tiltLess where
	// the band is tiltNoise pitches wide or more: there the normal says more than the place.
	nodeTilt  = 45
	tiltLess  = 20
	tiltNoise = 0.3

	// Of a patch patchIn in patchOf nodes, and patchLeast, panelLeast or exactIn or more,
	// must lie on a shape that it suggests. Beyond widePatch nodes or widePanels a patch is
	// widened only if it suggested something.
	patchIn    = 6
	patchOf    = 10
	patchLeast = 8
	panelLeast = 2 // two panels show a plane
	exactIn    = 6 // as many as settle a cone
	widePatch  = 120
	widePanels = 9

	patchTries = 6   // shapes of a trial that are grown, at most
	panelTries = 24  // the same of panels
	rivals     = 2   // supports that a trial grows
	rivalScore = 0.5 // of the best score that another support must have to be looked at
	fewPanels  = 8   // of a surface refused, up to which its other panels are seeds
)

// Sparse exact clouds (exact.go). TestScoreCAD, TestScoreCADWithNoise, TestPointsOnFacets.
const (
	exactFew    = 200     // points of a cloud, at least
	exactMost   = 150_000 // points of a cloud, at most, that is searched point by point
	exactLarge  = 100     // points of a surface that is looked for first
	exactTrials = 200     // trials for these, which make directions and axes known
	exactShare  = 0.12    // of all points that these must hold
	exactLeast  = 8       // points of an exact surface, at least
	exactHeld   = 0.5     // of all points that the exact surfaces must hold in the end
	exactRest   = 0.1     // of all points that these may leave without another search
	exactTries  = 8       // samples of each kind, and about each direction and axis
	exactNear   = 10      // neighbours that they are drawn from
	exactFaced  = 2       // one in so many points must have a normal
	axisFloors  = 10      // half widths between axes that are one
	exactSine   = 0.1     // of the angle at the first of three points of a plane, at least
	exactSlope  = 0.05    // sine of the slope of a cone's meridian to its axis and across, at least
	exactTurns  = 3       // fits of a cylinder or cone, no axis being known
	exactFit    = 14      // points that a cylinder or cone is fitted to, no axis being known
)

// exactBands are the half widths, spacings, of the band of an exact cloud that are tried:
// for points to the last digit, and for rounded ones. TestScoreCADWithNoise.
var exactBands = [...]float64{1e-3, 5e-3}

// exactParallel is one less the cosine between two directions of an exact cloud that are one:
// half the square of 0.03 degrees. TestScoreCAD.
const exactParallel = 1e-7

// Assignment of points (assign.go). TestFacesHaveNoPits, TestPointsAstrayMakeNoNodes.
const (
	// assignChunk is how many points are handed out between two looks at the context.
	assignChunk = 1 << 15

	crowdCells = 12 // edge of the cells that points are counted in, spacings
	crowdLeast = 6  // points of a cell that may show a surface
)

// Spacing and noise (sampling.go). TestScore.
const (
	blockCount  = 64   // places at which a scan's texture is looked at
	blockPoints = 2000 // points of a place, about: 50 spacings across

	coarsePoints = 40_000 // points that a first estimate of the spacing looks at
	coarseCell   = 12     // of these in a cell, at most
	firstCells   = 8      // cells along the scan to begin with
	finestCells  = 4096   // and in the end, at most
	placesApart  = 3      // radii of a place between two of them: none sees another
	cellsPerArea = 1.5    // cells met over the area: mean of |x|+|y|+|z| on a sphere
)

// Decimals of a text file (rounding.go). TestRoundingIsReadFromTheNumbers, TestFewDecimalsAreStood.
const (
	decimalSample = 4096 // points looked at. Speed.
	decimalPlaces = 8    // 0 to 7 places are tried: single precision has no more
	fewestDigits  = 3    // significant digits tried
	mostDigits    = 6    // single precision has seven
	decimalSlack  = 4    // units over the error of single precision, at least, to be told
	decimalGain   = 1.01 // by which a number may be off more than that error
	decimalGuard  = 1e-9 // units that the division rounds, at most
	decimalLeast  = 40   // numbers: by chance all fit once in 2^40
	decimalTold   = 2    // one in so many numbers must tell

	// Numbers of a scan end in digitsUsed of the ten digits or more, and in 0 less than one
	// in zerosFew times: a drawing's end in few, and mostly in 0.
	digitsUsed = 8
	zerosFew   = 3
)

// The band of noise (tolerance.go), standard deviations and ratios. TestScore,
// TestSurfacesComeApart.
const (
	sigmas    = 3    // half width of a band in standard deviations
	noiseGain = 1.25 // by which a whole surface's noise may exceed that of the sampled patches
	bandGain  = 1.6  // by which a surface's residuals may widen its band
	learnGain = 2    // by which the noise learnt may exceed that estimated
	rmsGain   = 1.35 // by which a surface's residuals may exceed what is expected
	// textureGain is how many times the noise the residuals of a rough surface are, at
	// least: those of a true face with the scanner's waves are up to 1.6 times what the
	// quietest surface shows. TestDemoFindsTheHoleThatIsOff.
	textureGain = 2
)
