package segment

import "math"

// Tuned constants: name, unit, why this value, and the test that would notice another.
// A test named above a block is that of all of it. Pitches are distances between nodes,
// spacings those between points; what is named speed changes no result. Values without
// a reason were chosen by the score: TestScore, and the long TestStudyScore, TestStudyForm
// and TestStudyScoreCAD (build tag study), which are finer.

// Patches and trials (search.go, patch.go). TestScore; TestRoundedBlockHasCylindersAndBalls.
var (
	// Sizes of the patches that suggest shapes, in nodes, panels and points: each some three
	// times the one before. Two panels show a plane, three a cylinder, five a cone, nine a ball.
	nodePatches  = []int{14, 40, 120, 360}
	panelPatches = []int{2, 3, 5, 9, 20, 60}
	exactPatches = []int{25}

	// priors weigh the score of a kind: the simpler shape wins where both explain the same.
	priors = [...]float64{planeKind: 1, cylinderKind: 0.8, sphereKind: 0.75, coneKind: 0.7}
)

const (
	batchSize  = 64             // trials on one snapshot of the labels
	largeBatch = 12             // the same where most trials find the same few large surfaces
	trialLimit = 1200           // nodes a trial grows to before it competes
	largeNodes = trialLimit / 2 // nodes of surfaces from which batches are large

	nodeTilt  = 45  // degrees that a node's normal is off its surface's, at most,
	tiltLess  = 20  // less this
	tiltNoise = 0.3 // where the band is so many pitches wide: there the normal says more

	patchIn, patchOf = 6, 10 // in so many nodes of a patch so many lie on a shape, at least,
	patchLeast       = 8     // and so many,
	panelLeast       = 2     // or panels,
	exactIn          = 6     // or points: as many as settle a cone
	patchTries       = 6     // shapes of a trial that are grown, at most
	panelTries       = 24    // the same of panels
	rivals           = 2     // supports that a trial grows; of panels one of each kind
	rivalScore       = 0.5   // of the best score that another kind must have to be looked at

	creaseCos    = 0.927 // between neighbouring normals of a patch, at least, 22 degrees
	curvedSpread = 0.02  // of a patch's normals, rad: below it nothing curved is tried
	singular     = 1e-12 // least pivot of three equations over its diagonal: rounding
)

// Fits of the search. Speed; TestScore.
const (
	refitSteps    = 6   // iterations for a surface that grows: the next turn goes on
	otherSteps    = 30  // the same of another kind on the same nodes
	otherSample   = 300 // nodes that another kind is fitted to
	supportSample = 400 // nodes that represent a support: a spread is known to a twentieth
	// A cylinder is a cone's start with this taper, 3 degrees, sine and cosine.
	taperSin, taperCos = 0.05, 0.99875
)

// Growth of a support (grow.go, form.go). TestStudyScore; TestPointsOnFacets.
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
	coreFew, coreLeast = 5, 30
	coreIn, coreOf     = 3, 4

	flankBands  = 2   // half widths that the flanks beside a support reach
	standsRatio = 4   // nodes within the band over those in a flank, at least (chance: 2),
	standsSure  = 3   // by standard deviations,
	standsKnown = 1.5 // and about a known axis
)

// Flat panels (panels.go). TestModelsAreTold, TestScansAreNotTakenForModels, TestThinnedScan.
const (
	// A mesh is searched as panels if its long sides are thinnedSpread times the short ones
	// (a drawing's 50 and more, a thinned scan's 9, a grid's 1.4), or leastSpread times and
	// leastDrawn of its vertices lie on edges of flat sides. One of up to thinnedPoints whose
	// points explain less than poorShare is, too, and that counts if it explains betterShare more.
	thinnedSpread = 6.5
	leastSpread   = 3.0
	leastDrawn    = 0.5
	bentRoundings = 20 // tolerances that a triangle leaves the plane of a flat side by
	thinnedPoints = 20_000
	poorShare     = 0.9
	betterShare   = 0.1
	leastScan     = 100    // vertices of a mesh that may be a scan
	drawnSample   = 2000   // vertices looked at. Speed.
	sideSample    = 20_000 // triangles whose sides are measured. Speed.
	shortSides    = 0.1    // share of the sides that are short, and that are long
)

// Noise of panels (panelmesh.go). TestCornerNoise, TestDrawingWithMovedCorners, TestThinnedScan.
const (
	pointRoundings = 3     // of the largest rounding in space that a vertex is off its surface,
	pointShare     = 1e-6  // or of the part: common practice of modellers, no source
	sliverPair     = 1e-12 // sine squared of a triangle's angle that is rounding
	leastCoplanar  = 20    // one in so many pairs of triangles lie in one plane, at least
	leastPairs     = 400   // fewer tell no noise
	mostNoise      = 0.15  // of the median side: more is form
	threeSigmas    = 1.461 // 0.9973/0.6827, of a normal distribution within 3 sigma over 1
	noiseSigmas    = 4     // half the band: of 5,000 corners one in three meshes lies out
	looseRoundings = 4     // the same, in tolerances, of a surface known from its first panels,
	looseSigmas    = 6     // and in standard deviations
	levelGain      = 2     // growth of a panel's area after which its plane is fitted anew
	panelGain      = 2     // growth of a surface's panels between two fits,
	panelRoom      = 4     // and panels beyond
	cornersOff     = 3     // one in so many corners of a panel may lie off, where there is noise
	completeTurns  = 6     // looks for panels elsewhere, each reaching twice as far
	noisyTrials    = 4000  // a surface of a thousandth of what is free has been a seed by then
	mostTilt       = 1.047 // rad, 60 degrees, that noise may turn a panel's normal
	sliverTilt     = 1.012 // rad, 58 degrees, that makes it useless for a closed form
)

// What panels make a surface (panelset.go). Tests of panel*_test.go, named by the part.
const (
	// maxStep is the widest angle, rad, that a flat side of a curved surface may span: nine
	// sides are a circle, eight an octagon. Common practice, no source.
	maxStep   = 40.5 * math.Pi / 180
	sharpTurn = 25 * math.Pi / 180 // rad, of an edge of the part. Common practice, no source.

	undirected     = 100  // tolerances about an axis within which a corner tells no direction
	leastLength    = 20   // length of a surface, tolerances
	sliverHeight   = 20   // height of a triangle, half bands, below which its normal is chance,
	sliverRounding = 10   // and tolerances, below which it is taken whatever its normal
	lineGap        = 1e-3 // rad, between two straight lines of a surface

	// A rounding of three sides has sides alike to unlikeRounding, rad at most.
	widestRounding = 31 * math.Pi / 180
	unlikeRounding = 1.01

	// What another body cut off a side spans cutStep of the surface's steps at most, leans
	// cutTilt, rad, more, and has an edge of cutEdge tolerances in common.
	cutStep, cutTilt, cutEdge = 1.05, 1e-3, 10

	// A surface is a band of something doubly curved if over bandShare of its panels go on: to
	// panels likeArea times their size at most, whose far edge, parallel to a cosine of
	// bandEdge, turns bandTurn times as much at most, or less than bandGentle, rad.
	bandShare, bandEdge, bandTurn = 0.6, 0.8, 1.6
	bandGentle                    = 3 * math.Pi / 180
	likeArea                      = 3

	// A panel is a face if no more than faceSoft of its border turns on gently, or it is
	// faceLarge times as large as what it turns to.
	faceSoft, faceLarge = 0.5, 20

	// Least that is no coincidence: sides, sine of a cone's half angle, arc (rad), corners
	// (twice what determines a cylinder; three times with noise), panels of a ball.
	leastSides        = 4
	leastTaper        = 0.009
	leastPanelArc     = 20 * math.Pi / 180
	leastCorners      = 10
	leastNoisyCorners = 15
	leastBallPanels   = 6
	leastPlaneSides   = 5   // width of a noisy plane of small triangles, median sides
	leastHeight       = 4   // of an arc over its chord, half bands; of points, too
	mostArcRMS        = 1.4 // residuals of a cylinder that goes less than half round, over noise
)

// mostRMS is the most that the residuals of a true surface are, over the noise; more are
// those of one that chance lays through any corners. TestThinnedScan.
var mostRMS = [...]float64{planeKind: 1.4, cylinderKind: 2, sphereKind: 1.4, coneKind: 1.4}

// Kinds of form (formkind.go). TestFormKind, TestFormsByHand, TestDraft.
const (
	formSample = 2000          // points of a surface that say what form it has: 10 ms
	formArc    = 1.5 * math.Pi // rad; of less a harmonic and the axis are not distinguished
	mostLobes  = 6             // highest harmonic that is called lobes
	draftModes = 4             // half waves of form that a taper is compared with: 16 waves
	// draftGain is by chance exceeded in one of 300,000 (F with 1 and 16 degrees of freedom);
	// red noise of small walls reaches 49 in 1 of 500, drafts of 0.5 degrees 80.
	draftGain    = 50
	formMost     = 2  // form is of the kind that takes one in so many parts of it: half
	saddleRatio  = 4  // of a saddle's curvatures, at most
	textureLeast = 16 // spacings of an extent that shows a texture's length
	textureReach = 2  // one in so many parts of it up to which correlation is looked at
	// textureBins are those of distances, in each of which texturePairs pairs say something.
	// A texture is shorter than one in texturePart parts of an extent.
	textureBins, texturePairs, texturePart = 20, 50, 4
	textureNear                            = 2 // spacings of a texture's length, at least: else it is noise
)

// Sheets of a cloud (accept.go): dust has planes and balls through any of its points.
// TestDustShowsNoSurface, TestSurfacesAmidDust.
const (
	sheetShare  = 0.6     // of the points near by, beyond chance, that lie on it, at least
	sheetBands  = 3       // radius of what is near by, half widths of the band, at least
	sheetPoints = 12      // points near by, about, on average, at least
	sheetNodes  = 100     // nodes of a support that are looked about
	sheetLeast  = 80      // nodes, at least, where the band is wider than the points are apart
	sheetWidth  = 8       // narrowest width of a surface, half widths of the band
	sheetSample = 100_000 // points of a cloud that are looked at; more are not searched as exact
)

// What makes a support a surface (accept.go). TestStudyScore; TestTappedHolesHaveWalls.
const (
	// Widths, pitches, of exact points and of noisy ones, whose band is smallNoise pitches
	// wide or more: the root of it is the width of a rounded edge in the band.
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
	ballRadius  = 3   // of a sphere, pitches, at least
	ballReach   = 0.5 // rad, from its middle that a sphere goes on to, at least
	boxFill     = 2   // area of the box about a plane over the plane's, at most: an L, a ring
	denseShare  = 0.3 // of a surface's area that its nodes cover, at least,
	leftShare   = 0.5 // and of a mesh's where a coarser level did not find it. TestEdgesLeftOver

	taperLength = 8 // pitches of a slender cone, at least,
	taperRise   = 6 // and growth of its radius, standard deviations

	// bentBands, half widths that a bend leaves a chamfer's flat by, at most. TestStudyForm:
	// without it chamfers of bowed clouds are not found.
	bentBands = 0.5
	leastArc  = 15 * math.Pi / 180 // rad; less is a sliver

	// What a scanner makes of a sharp edge is narrower, pitches, than roundedWidth, of a cone
	// roundedCone times that, in an inner corner roundedCorner. A cone goes coneTurn, rad,
	// round its axis or has coneNodes.
	roundedWidth  = 8
	roundedCone   = 2
	roundedCorner = 6.5
	coneTurn      = 2 * math.Pi / 3
	coneNodes     = 400

	endCut    = 20             // one in so many points is left out at either end of a width,
	endsLeft  = 1 - 2.0/endCut // so that this is left of an even one,
	astrayCut = 100            // and of a length

	sectorsLeast = 12 // sectors that an arc is measured by, of 30 degrees
	sectorsMost  = 72 // and of 5
	bandPoints   = 8  // points of one where a band's height is measured, on average,
	bandLeast    = 3  // and at least
	sectorPoints = 3  // points of one, on average
)

// Slices of freeform surfaces, pitches and shares (ends.go). TestSurfacesComeApart.
const (
	ringSteps  = 2    // steps over the graph from a surface's border outward
	fadeShare  = 0.45 // of the ring that may go on smoothly
	wholeTurn  = 300 * math.Pi / 180
	flatCone   = 0.34 // cosine of the half angle of a cone whose border is looked at
	fadeCos    = 0.94 // between normals where a surface goes on, 20 degrees
	fadeLarger = 2    // by how many times a face has more nodes than the slice it bounds
	fadeBorder = 4    // nodes at the border, over the root of all: those of a square
	fadeForm   = 3    // heights of form that it may lie off
)

// Form (form.go). TestFormedFacesAreWhole, TestStudyForm.
const (
	stepSlope  = 0.05                // of a link's length that it may climb beyond the noise
	linkCos    = 0.7                 // between normals of a smooth link
	formLimit  = 0.01                // height of form over the extent of the surface
	formTilt   = 8 * math.Pi / 180   // rad, of a normal, averaged over the links, at most
	meanTilt   = 2.5 * math.Pi / 180 // rad, root mean square of the same over the surface
	formLeast  = 200                 // nodes of a surface with form
	smoothTurn = 2                   // rounds of averaging of the normals
	linksLeast = 10                  // links on which two pieces touch, more than,
	extendGain = 1.05                // growth of a surface that grows on, at least
	bitShare   = 0.6                 // of a slice's nodes that are left, at least, for it to be one
	formSteps  = growSteps + 2       // turns of growing, at most
)

// The final fit, points (finish.go). Parameter errors over uncertainty of TestScore.
const (
	fitPoints     = 15_000  // up to twice as many are fitted: known to a hundredth of the noise
	extentPoints  = 20_000  // up to twice as many say how long and how far round. Speed.
	leastPoints   = 24      // of a surface, where there is noise
	interiorShare = 1.0 / 3 // of the points that are away from the edge, to be fitted alone,
	interiorLeast = 30      // and their number
	// narrowShare is the least share of the points that are away from the edge where a surface
	// goes less than narrowArc, rad, round its axis: rounded edges have 0.01, pockets 0.13.
	narrowShare = 0.04
	narrowArc   = 170 * math.Pi / 180
)

// What neighbours share (finish.go). TestLongWavesCount, TestScore.
const (
	// tilePoints of a plane show its noise, about a scale of its side in tileParts parts:
	// tiles are then two fifths of it across, and longer waves pass for a bow. At 12 the
	// longest waves of fused scans are not seen. TestScore.
	tilePoints, tileParts = 2000, 6
	// pooledSurfaces are looked at where there is no such plane, with pooledPoints points or
	// more, about a scale of the largest one's extent in pooledParts parts.
	pooledSurfaces, pooledPoints, pooledParts = 4, 400, 8
)

// About axes that are known (coaxial.go). TestNarrowFaces, TestStudyScore.
const (
	oneDirection = 0.999 // cosine between two directions that are one, 2.6 degrees
	nearAxis     = 2     // pitches from an axis within which nodes tell nothing about it
	meridianOff  = 0.2   // sine of a normal's angle to the plane through the axis, at most
	ringCos      = 0.99  // between the axis and the normal of a ring, at least, 8 degrees

	meridianReach = 0.105 // rad, 6 degrees, between the normals of one line's nodes
	lineSample    = 100   // nodes that propose lines, up to twice as many
	lineCounted   = 4000  // nodes that rank the lines, up to twice as many. Speed.
	lineTurns     = 16    // lines about an axis that are looked for
	lineStraight  = 0.1   // sine, 6 degrees, within which a cone is a cylinder or plane
)

// Walls rougher than form, as of tapped holes (formwall.go). TestTappedHolesHaveWalls.
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
	degree     = 12   // neighbours of a node: three rings of a square grid hold 8
	reachPitch = 1.4  // distance to the sixth neighbour over that to the nearest
	gapReach   = 3    // times its ends' reach that an edge is long that crosses a gap
	nodeChunk  = 4096 // nodes between two looks at the context, 1 ms. Speed.

	// Of a seed's seedNeighbours, leastSeen or more, seedShare are smooth links. It is off a
	// surface that was found beside it by seedSlope pitches, at least.
	seedSlope      = 0.35
	seedNeighbours = 8
	leastSeen      = 4
	seedShare      = 0.6

	besideBands = 1.5 // half widths that noise's tail reaches

	likeNormals = 0.8  // cosine between normals of one smooth place, 37 degrees
	facesCos    = 0.7  // the same of a point, whose normal is coarse, and a surface
	opposite    = -0.9 // the same below which they are of two sides
)

// Joining of pieces (merge.go). TestNarrowFaces, TestScore.
const (
	mergeSample = 600   // points of a piece that a trial merge looks at
	closeRMS    = 1.8   // root mean square of a piece's distances over a true one's, at most
	joinTilt    = 0.209 // rad, 12 degrees, between directions of two pieces
	joinRadius  = 0.15  // by which their radii are alike

	facesSample, facesShare = 100, 0.8 // points that must face as the surface does, a share

	// A bump is at most an absorbSmaller-th of its surface, which holds absorbShare of
	// absorbSample points.
	absorbSmaller, absorbShare, absorbSample = 3, 0.75, 200
)

// Thinning, assignment, junk. TestSameOnAnyNumberOfCores, TestFacesHaveNoPits.
const (
	thinChunk   = 1 << 17 // picks that are added up by themselves, in one order: milliseconds
	assignChunk = 1 << 15 // points handed out between two looks at the context
	lookEvery   = 1 << 15 // the same elsewhere
	junkShare   = 0.02    // of a mesh's triangles that a piece of junk has, at most
)

// The levels of a search (segment.go). TestMorePointsThanMakeNodes, BenchmarkSegment.
const (
	nodeTarget   = 40_000  // nodes that a level aims at
	lastNodes    = 300_000 // nodes of the last level, at most about
	samplePoints = 1 << 19 // points that make the nodes of the first level
	lastLevel    = 2       // number of the last level at most, from 0. Speed.
	fewestPoints = 8       // points that are left for another level, at least

	// Cells of a level, in spacings: a level is the last where they would be smaller than
	// lastCell. Its own are leastCell or more.
	lastCell  = 1.3
	leastCell = 0.5

	mostUneven = 1.5 // mean distance of points over their median, at most, of an even scan

	leastBand    = 0.04 // half width of a band, spacings, at least
	scanRounding = 4e-7 // the same over the scan's diagonal: a few units of single precision

	laterTrials  = 4  // by how many times fewer trials a later level looks for large surfaces
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
	{nodes: 1000, trials: 64, large: true},
	{nodes: 200, trials: 256, large: true, axes: true},
	{nodes: smallNodes, trials: math.MaxInt, axes: true},
	{nodes: 16, trials: math.MaxInt, last: true},
}

// Cones (surface.go), sines and cosines of the half angle. TestScore, TestCountersinkIsAConeOverACylinder.
const (
	extremeSin, extremeCos = 0.005, 0.14 // 0.3 and 82 degrees: as good as a cylinder or a plane
	slenderSin             = 0.07        // 4 degrees: near a cylinder, as drafted walls are
	saneSin, saneCos       = 0.003, 0.02 // 0.2 to 89 degrees: what a scan could show at all
)

// Sparse exact clouds (exact.go). TestScoreCAD, TestScoreCADWithNoise, TestPointsOnFacets.
const (
	exactBand     = 1e-3 // half width of the band, spacings. TestScoreCADWithNoise
	exactFew      = 200  // points of a cloud, at least
	exactSure     = 10   // of 25 neighbours on one shape, at least: 7 beyond those of a plane. Speed.
	exactLarge    = 100  // points of a surface that is looked for first
	exactTrials   = 200  // trials for these, which make directions and axes known
	exactShare    = 0.12 // of all points that these must hold
	exactLeast    = 8    // points of an exact surface, at least
	exactHeld     = 0.5  // of all points that the exact surfaces must hold in the end
	exactRest     = 0.1  // of all points that these may leave without another search
	exactTries    = 8    // samples of each kind, and about each direction and axis
	exactNear     = 10   // neighbours that they are drawn from
	exactFaced    = 2    // one in so many points must have a normal
	exactSine     = 0.1  // of the angle at the first of three points of a plane, at least
	exactTurns    = 3    // fits of a cylinder or cone, no direction being known
	exactFit      = 14   // points that it is fitted to then
	exactParallel = 1e-7 // one less the cosine of directions that are one, 0.03 degrees
)

// Spacing and noise (sampling.go). TestScore.
const (
	blockCount   = 64     // places at which a scan's texture is looked at
	blockPoints  = 2000   // points of a place, about: 50 spacings across
	coarsePoints = 40_000 // points that a first estimate of the spacing looks at
	coarseCell   = 12     // of these in a cell, at most
	firstCells   = 8      // cells along the scan to begin with
	finestCells  = 4096   // and in the end, at most
	placesApart  = 3      // edges of a place between the middles of two: none sees another
	cellsPerArea = 1.5    // cells met over the area: mean of |x|+|y|+|z| on a sphere
)

// Decimals of a text file (rounding.go). TestRoundingIsReadFromTheNumbers, TestFewDecimalsAreStood.
const (
	decimalSample = 4096 // points looked at. Speed.
	decimalPlaces = 8    // 0 to 7 places are tried: single precision has no more
	fewestDigits  = 3    // significant digits tried
	mostDigits    = 6    // single precision has seven
	decimalSlack  = 4    // units over the error of single precision, at least, to be recognised
	decimalGain   = 1.01 // by which a number may be off more than that error
	decimalGuard  = 1e-9 // units that the division rounds, at most
	decimalLeast  = 40   // numbers: by chance all fit once in 2^40
	decimalTold   = 2    // one in so many numbers must tell
	digitsUsed    = 8    // of the ten last digits that a scan's numbers use; a drawing's use few,
	zerosFew      = 3    // and end in 0 more than once in so many
)

// The band of noise (tolerance.go), standard deviations and ratios. TestSurfacesComeApart.
const (
	sigmas      = 3    // half width of a band in standard deviations
	noiseGain   = 1.25 // by which a whole surface's noise may exceed that of the sampled patches
	bandGain    = 1.6  // by which a surface's residuals may widen its band
	learnGain   = 2    // by which the noise learnt may exceed that estimated
	rmsGain     = 1.35 // by which a surface's residuals may exceed what is expected
	textureGain = 2    // the same of a rough one: waves bring up to 1.6
)
