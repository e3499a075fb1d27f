package scanio

import "time"

// Tuned constants of this package. Facts of the formats are beside their
// readers.
const (
	// blockSize, bytes, is how much of a file a goroutine decodes at a time: its
	// scratch fits the processor's cache, and starting work costs nothing beside
	// decoding. Larger ones are no faster (BenchmarkRead). A file is read in fileBlocks
	// or more of them, so that all cores have work, down to leastBlock, bytes. Speed
	// (BenchmarkRead); TestReadDoesNotDependOnJobs holds for any.
	blockSize  = 1 << 18
	leastBlock = blockSize / 16
	fileBlocks = 64

	// stlTable is the number of places in which equal corners of a block of an STL, some
	// 3,000 of them, are looked for. Speed (BenchmarkRead).
	stlTable = 1 << 13

	// growMargin is the room that a list is given, by that which the part of the file
	// read so far foretells: so it seldom grows twice. Speed (BenchmarkRead);
	// TestLongLines notices 20.
	growMargin = 1.05

	// progressPause is the least time between two reports: ten a second look smooth
	// (common practice, no source). TestReadReportsProgress.
	progressPause = time.Second / 10

	// maxRow, bytes, is the longest line, row or facet that is read. The longest
	// found in practice is a polygon of some thousand corners, 10 kB.
	// TestLongLines.
	maxRow = 1 << 24

	// maxNumber, bytes, is the longest number that is read: a double written out
	// takes 1,079 at most. TestNumber.
	maxNumber = 1 << 11

	// headSize, bytes, is how much is looked at to learn the format and the
	// layout: some hundred lines. TestMadeScans. Where the first line is longer, it is
	// headGrowth times as much, and again. Speed; TestLongLines holds for any.
	headSize   = 1 << 16
	headGrowth = 16

	// tailSize, bytes, is how much of a text's end is looked at to see whether it
	// was cut. TestCutCopiesAreNoticed.
	tailSize = 1 << 12

	// quotedBytes is how much of a word or line an error quotes: enough to find it
	// by. TestWhatIsSaidAboutBrokenFiles.
	quotedBytes = 24

	// writeBuffer, bytes, is how much is formatted before it goes to the writer:
	// as much as a pipe holds. TestWriteAndReadBack.
	writeBuffer = 1 << 16

	// layoutLines is how many lines of points are looked at to learn what
	// separates the columns and which hold normals; lastComments, how many
	// comments before them may name the columns; maxHeaderRow, bytes, the longest
	// row that may. TestXYZForms.
	layoutLines  = 200
	lastComments = 8
	maxHeaderRow = 1 << 12

	// maxDecimals is how many decimals a number between commas may have to be
	// read as one with a decimal comma: those of single precision.
	// TestXYZErrors.
	maxDecimals = 9

	// unitNormal is how far from 1 a unit vector's length may be, rounded to as
	// little as two decimals: 0.5 sqrt(3) in the second, with a margin.
	// maxNormalColumn is how many columns are searched for one. TestXYZForms.
	unitNormal      = 0.02
	maxNormalColumn = 18

	// PLY headers of more elements are not believed. FuzzPLY.
	maxPLYElements = 256

	// maxCorners is the largest number of corners of a polygon. A mesh has
	// polygons of four corners, the cap of a turned part a few thousand.
	// TestReadTakesNoMoreMemoryThanTheFileWarrants.
	maxCorners = 1 << 16

	// A surface has about two triangles a point. Files with more than
	// manyTriangles that have perPoint times as many as points repeat
	// themselves, and are refused before they are given memory. The same test.
	manyTriangles = 1 << 16
	perPoint      = 64

	// coarseStep, mm, is the step between single precision numbers from which on
	// a warning says that precision is gone: rounding to it has a standard
	// deviation of 0.003 mm, a tenth of a good scanner's noise.
	// TestFarFromZeroInSinglePrecision.
	coarseStep = 0.01

	// Sizes, mm, between which a scan of a part that is bolted to something
	// lies (common practice, no source). TestUnitHints.
	tinyPart  = 2
	smallPart = 20
	hugePart  = 10_000
	// unitPlaces is how many places that may name a unit are looked at.
	// TestUnitStatedInTheFile.
	unitPlaces = 8

	// max3MFRatio is how many times its packed size a model is believed to have:
	// lists of numbers pack to a tenth, the worst that an archive can do is
	// 1,032. least3MF, bytes, is the packed size that any model is taken to have.
	// Test3MFLimits.
	max3MFRatio = 100
	least3MF    = 1 << 12

	// max3MFItems is how many components may be placed. What they make together
	// may be max3MFSize points and triangles, or max3MFCopies times those of the
	// file. The same test.
	max3MFItems  = 1 << 14
	max3MFSize   = 1 << 20
	max3MFCopies = 4
)
