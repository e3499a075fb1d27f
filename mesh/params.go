package mesh

// Every tuned constant of the package: what it is, its unit, why this value,
// and the test that would notice a change.

// The k-d tree.
const (
	// leafSize is the largest number of points in a leaf. 16 builds and answers
	// faster than 8, 12 and 24 (BenchmarkNewKDTree, BenchmarkNearest).
	leafSize = 16
	// nodeChunks is in how many parts the nodes of a level are shared out among the cores:
	// a few for each core of a large machine (BenchmarkNewKDTree).
	nodeChunks = 128
	// widestSample is about how many points tell the widest side of a node: the axis
	// need not be the best one. Speed (BenchmarkNewKDTree); TestKDTreeProperty holds for
	// any.
	widestSample = 1024
	// boundSlack is what a bound may lose to rounding, as a ratio: it only grows on the
	// way down (Arya & Mount 1993, Algorithms for fast vector quantization, section 3),
	// by at most 32 sums of three roundings of 2^-24 each. Subtrees within it are
	// searched, so that rounding loses no point. Derived
	// (TestKDTreeFindsWhatLookingAtEveryPointFinds).
	boundSlack = 1 + 1e-5
)

// Orientation of meshes.
const (
	// trustedMinority is the largest share of a mesh's area that may be wound
	// against the rest of its surface for the majority to be believed. Holes that
	// a program filled or parts that it pasted in are less; of triangles wound at
	// random it is half (TestWindingsAreMadeToAgree).
	trustedMinority = 0.05
	// leastShell is the share of a mesh's triangles from which on a closed piece
	// is looked at: smaller ones are dust, whose side does not matter.
	leastShell = 0.01
	// shellGaps is the square of the length of a closed surface's open edges, by
	// its area, up to which it counts as closed: one round gap of 0.4 % of it. A
	// bore or pocket that was scanned alone is far more open, and is rightly
	// of negative volume (TestInsideOutMeshesAreTurned).
	shellGaps = 0.05
	// flatShell is the least volume of a closed surface by area^1.5, below which
	// it is a doubled sheet, and its sign chance. A plate of 0.1 mm by 300 mm has
	// 1e-4, rounding 1e-7.
	flatShell = 1e-5
	// mostParts is the number of parts beyond which loops in which each goroutine
	// walks all triangles gain nothing (BenchmarkMeshNormals).
	mostParts = 8
)

// Spacing and noise.
const (
	// spacingNeighbours is the number of neighbours whose median distance is the
	// spacing: those around a point of a triangular grid (TestSpacing).
	spacingNeighbours = 6
	// localSample is the number of local patches: a quartile's standard error is
	// 1.36 · 20 % / √1600 = 0.7 % (TestNoiseOfKnownShapes).
	localSample = 1600
	// localPoints is the number of neighbours in a local patch, some five spacings
	// across: few enough for walls of holes, four for each coefficient.
	localPoints = 24
	// leastLocal is the least number of points of a patch for a quadric: two for
	// each coefficient.
	leastLocal = 12
	// patchFreedom is the share of a patch's degrees of freedom that is left where it
	// chooses its outliers itself: by simulation (TestNoiseOfKnownShapes). leastFreedom
	// is the least of a patch in which neighbours share most of the noise
	// (TestNoiseThatNeighboursShare).
	patchFreedom = 0.65
	leastFreedom = 20
	// noiseCut is the number of standard deviations beyond which a point is an
	// outlier, or beyond an edge; common practice, no source.
	noiseCut = 2.5
	// normalQuartile is the upper quartile of a normal distribution, in standard
	// deviations, and sigmaOfMedian its inverse: the standard deviation by the median of
	// what lies off. Normal distribution (TestNoiseOfKnownShapes).
	normalQuartile = 0.6745
	sigmaOfMedian  = 1.4826
	// bandRounds bounds the fits of a patch, each to the points within the cut of the
	// one before; they end where the cut moves by less than bandSettled of itself. By
	// trial (TestNoiseOfKnownShapes).
	bandRounds  = 8
	bandSettled = 0.01
	// leastPart: a patch is given up where less than one in so many of its points was
	// found, or lies within the cut. Common practice, no source
	// (TestNoiseOfKnownShapes).
	leastPart = 4
	// patchChunk is the number of patches that are measured at a time. Speed
	// (BenchmarkEstimateSampling).
	patchChunk = 8
	// facingAway is the cosine of the angle, 45 degrees, from which on a point's normal
	// is that of another side.
	facingAway = 0.7

	// broadSample is the number of broad patches at each width, and broadUsed the
	// number of points of one that the fit looks at: chance spreads their noise by
	// 6 % (TestNoiseThatNeighboursShare).
	broadSample = 128
	broadUsed   = 128
	// broadMiddle is the number of neighbours that tell the density in the middle
	// of a broad patch: to 12 %, the patch's width to 6 %.
	broadMiddle = 64
	// quietPlace is the most that a local patch's noise may be of all patches', for a
	// broad patch about the same place: two standard deviations.
	quietPlace = 1.3
	// broadFaces is the least number of broad patches that would cover the scan: wider
	// ones are as large as faces, and see their form (TestNoiseOfABlockWithARoughEnd
	// of package segment).
	broadFaces = 16
	// broadSpread is the largest ratio of the lower quartile of broad patches' noise to
	// the lowest of broadLowest: what is more is the curvature of many surfaces.
	broadSpread = 1.5
	broadLowest = 20
	// broadRough is the largest noise by a patch's width: what is more is a patch
	// round a slender bar (TestNoiseOfKnownShapes).
	broadRough = 0.1
	// broadRelief is the most that the quadric may rise over a patch, by the
	// patch's width. On a cylinder it leaves up to relief³·width unexplained, a
	// tenth of that as the root mean square. Where the noise is more than
	// relief³·width, a patch may rise by broadMost: parts of slender bars have no
	// others (TestTextureWithoutNoise).
	broadRelief = 0.1
	broadMost   = 0.2
	// patchInliers is the least share of a patch's points that its quadric
	// explains.
	patchInliers = 0.65
)

// broadPatches are the numbers of neighbours in broad patches: about 11, 25 and
// 55 spacings wide (TestNoiseThatNeighboursShare).
var broadPatches = [...]int{96, 480, 2400}

// Normals. TestCloudNormalsOnAPlateWithOutliers notices a change of any.
const (
	// A cloud's normal is taken from so many neighbours: few where they lie far
	// enough apart for the noise not to matter, up to maxPatch where they are
	// close.
	fewNeighbours = 12
	maxPatch      = 32
	// sideSample is the number of points whose given normals are compared with
	// their neighbours', and sidesAgainst the share that may oppose them: of sides
	// at random half do (TestGivenNormalsOfEitherSideAreTurned).
	sideSample   = 20_000
	sidesAgainst = 0.1
	// sparsest is how many times as sparse as most of the scan a wall may be, and
	// capSample the number of points from which the median area of a point is computed,
	// within 5 % for a spread of areas of 100 % (TestCloudNormalsOnAPlateWithOutliers).
	sparsest  = 25
	capSample = 1000
	// pointChunk is the number of points or surfels that are worked on at a time. Speed;
	// no result depends on it (TestCloudNormalsDoNotDependOnJobs).
	pointChunk = 1 << 10
	// A point belongs to a surface within bandSigmas standard deviations of the noise:
	// common practice, no source (TestCloudNormalsOnAPlateWithOutliers); and without
	// noise within bandSpacing, of the spacing: the rounding of single precision.
	// Derived; no test notices 0.1.
	bandSigmas  = 3
	bandSpacing = 1e-6
	// wantTilt is the standard deviation of a normal's tilt, rad, that ends the
	// taking in of more neighbours, moreNeighbours at a time. Speed.
	wantTilt       = 0.03
	moreNeighbours = 4
	// A normal is doubtful where less than this share of the neighbours lies on
	// its surface, or fewer than so many do, or where they lie more to one side
	// than at a straight rim. Without a second look at these no wall of a tapped hole is
	// found in a cloud (TestTappedHolesHaveWalls of package segment).
	doubtfulShare    = 0.6
	doubtfulInliers  = 8
	doubtfulOneSided = 0.33
	// patchBend is how far off a tangent a surface may bend over a patch, by the
	// patch's width, where there is less noise than that.
	patchBend = 0.03
	// askedNeighbours is the number of neighbours that are asked for a doubtful
	// normal: beyond the patch that left it in doubt.
	askedNeighbours = 48
	// sameSurface is the cosine of the largest angle, 20 degrees, between normals
	// of one surface.
	sameSurface = 0.94
	// planeDraws is the number of trial planes. With a fifth of the neighbours
	// outliers two good ones come up with 64 % chance: twelve draws all fail once
	// in 200,000.
	planeDraws = 12
	// goodCost ends the trials: a fifth of the points as outliers cost the band's
	// square each, the others a ninth of it on average, 0.29 together: no draw
	// will better this much.
	goodCost = 0.32
	// refineRounds bounds the least squares fits that refine a trial plane. They end
	// where the normal's turn has a cosine above sameNormal: 0.03 degrees, far below
	// wantTilt. By trial; no test notices a single fit.
	refineRounds = 3
	sameNormal   = 1 - 1e-7
	// normalBand is the largest standard deviation, by the band, of points that
	// are one surface: a normal sample's is a third of it.
	normalBand = 0.45
	// leastSine is that of the smallest angle between the directions to two
	// neighbours that make a trial plane.
	leastSine = 0.1
)

// Sides of clouds. The figures behind the decisions of TestOrientationOfParts
// are several times off these limits.
const (
	// surfelPoints is the number of points in a block that is divided into
	// surfels; beyond mostSurfels blocks they are larger, so that the work among
	// surfels does not grow with the scan. leastSurfel points make a surfel.
	surfelPoints = 16
	mostSurfels  = 60_000
	leastSurfel  = 3
	// surfelBend is the most that a point lies off a surfel, by its distance from
	// the surfel's middle; heights up to surfelStep bands of the noise do not count, the
	// point's and the surfel's (TestOrientationOfParts).
	surfelBend = 0.3
	surfelStep = 2
	// surfelNeighbours is the number of surfels that each is compared with, and
	// surfelVoters that of those which decide the side of a point of none.
	surfelNeighbours = 10
	surfelVoters     = 4
	// leastSquare, mm², keeps the weight of two surfels without area finite. Any
	// number far below a surfel's area does.
	leastSquare = 1e-30
	// knownArea is the share of the area whose outer side must be known.
	knownArea = 0.9
	// creaseCos is the cosine of the least angle of a crease, 50 degrees: more
	// than noise turns surfels by. creaseReach is how far apart the two surfels of a
	// crease may be, by the sum of their sizes: beyond it they are no neighbours.
	creaseCos   = 0.64
	creaseReach = 2
	// A surface closes where its area vectors sum to less than closedSum of its
	// area (a pocket with floor 2.9 radii deep does not), where it faces all ways
	// by closedFacing (a ball by 1/3) and holds closedRound of a ball's volume.
	closedSum    = 0.15
	closedFacing = 0.05
	closedRound  = 0.01
	// Of creases of an open surface, clearCreases or, if the volume agrees and is
	// openRound of a ball's, agreeingCreases more must be convex than concave.
	clearCreases    = 0.5
	agreeingCreases = 0.05
	openRound       = 1e-3
	// The signs of creases are chance up to chanceSigmas standard deviations of their
	// sum: random signs sum to more once in 10^9: normal distribution. Their length, by
	// the root of the area, must be leastCreases: a few are no evidence for the whole
	// (TestCloudNormalsOnAPlateWithOutliers, where either is 100).
	chanceSigmas = 6
	leastCreases = 3
)

// Building: welding, cleaning and rounding.
const (
	// itemChunk is how many points or triangles are worked on at a time: half a
	// millisecond (BenchmarkBuild).
	itemChunk = 1 << 15
	// weldBucket is the number of points wanted a bucket, whose table then takes
	// 64 kB of the processor's cache, and weldBits the logarithm of the most buckets,
	// whose counts take as little. A bucket of crowded times the points wanted goes to
	// a map: hashing then failed to spread them. bucketsAtOnce is how many a goroutine
	// takes at a time. Speed (BenchmarkBuild); TestFirstEqualInManyBuckets holds for any.
	weldBucket    = 1 << 13
	weldBits      = 12
	crowded       = 8
	bucketsAtOnce = 8
	// coordinateRounding is the rounding of the difference of two coordinates, by the
	// largest: two units of the last place of double precision. Derived.
	// TestZeroAreaInEveryFormat of package scanio.
	coordinateRounding = 1.0 / (1 << 51)
	// unitSlack is how far from 1 the square of a normal's length may be to be kept as
	// it is: some roundings of single precision. Derived (TestReadFilesOfOtherLibraries
	// of package scanio).
	unitSlack = 1e-6
	// maxCoordinate is the largest coordinate, mm, that counts as one: its square
	// still fits single precision. Anything farther out, like NaN and infinity,
	// is broken (TestFirstEqualFindsWhatAMapFinds).
	maxCoordinate = 1e15
	// originSamples is how many points choose the origin. Their median lies
	// among the part's points as long as fewer than half are stray
	// (TestOriginIsNearTheScan of package scanio). Their spread is that without the
	// share originTail at either end, and the origin is rounded to about one in
	// originSteps of it, so that a scan about zero keeps it at zero. By trial, on the
	// same test.
	originSamples = 255
	originTail    = 0.05
	originSteps   = 16
	// widthSamples is how many points tell the width of a scan, without the outermost
	// one in widthCut at either end. TestStrayPointsRaiseNoHint of package scanio.
	widthSamples = 2000
	widthCut     = 100
)
