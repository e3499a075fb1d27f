package scansim

import "github.com/golang/geo/s1"

// Tuned constants. Defaults of options are stated with the options.
const (
	// chunk is how many vertices or points a goroutine takes at a time. The
	// random stream of a chunk of points is its own, so a change changes all
	// clouds. A few milliseconds of work. Test: TestCloudSameAtAnyProcs.
	chunk = 4096

	// blockBits: a block of voxels is 16 cells wide. Smaller ones evaluate more of
	// their neighbours' samples, larger ones more that is far from the surface;
	// 8 cells are as fast, and an edge's 16 bits hold no more. Test: BenchmarkFused.
	blockBits = 4

	// fillSize samples along an edge are a part of a block that is evaluated on its own:
	// fewer say more surely what matters there, and take longer to say so. Speed.
	// BenchmarkFused.
	fillSize = 7

	// atlasCells along the longest edge of a part's box: enough for a ray to meet
	// one or two faces a cell. Tests: BenchmarkFused, BenchmarkCloud.
	atlasCells = 48

	// siteShare of the part's diagonal is the edge of the cubes that points are drawn in,
	// and shellShare of that half the shell about a face: of draws one in four is on the
	// surface. drawsMost are tried for one point. Tests: BenchmarkCloud,
	// TestCloudCoversByArea.
	siteShare, shellShare = 1.0 / 120, 0.25
	drawsMost             = 400_000

	// onSurface is how near a point is to the surface that it was dropped on, mm, and
	// gradientStep the step of the central differences of form, mm. Rounding. Tests:
	// TestCloudNoiseAsAsked, TestCloudShowsForm.
	onSurface, gradientStep = 1e-9, 0.02

	// rayStart of the part's diagonal is how far off the surface the rays of a
	// cloud begin, and hitShare of that, a hit's width: below what a scanner
	// resolves. Test: TestDeepWallsAreHidden.
	rayStart, hitShare = 1e-4, 1.0 / 16

	// The scanner stops scanStops times a turn at each of three elevations. Angle
	// between laser and camera, and steepest angle between a ray and the normal at
	// which the surface still shows: common practice, no source. Tests:
	// TestByViewThinsSteepFaces, TestDeepWallsAreHidden.
	scanStops                   = 12
	scanBaseline, scanIncidence = 24 * s1.Degree, 75 * s1.Degree

	// formBand is how near to a face its form is evaluated, mm beyond its largest
	// height: farther off it decides nothing, and bounds hold without it. Test:
	// TestFusedMeshShowsForm.
	formBand = 1
)
