package plan

// Limits of what a plan may say, each far beyond any sensible one: what lies outside is a
// slip. TestPlanErrors and TestScannerErrors notice them.
const (
	// A bolt circle has three holes or more; a thousand is more than any flange has.
	leastHoles, mostHoles = 3, 1000
	// A part is scanned between these, degrees C.
	coldest, hottest = -50, 150
	// What expands by more than this, 1/K, is no material that parts are made of.
	mostExpansion = 5e-4
	// A scanner whose length error grows by more than this share of the length, mm a mm,
	// measures nothing.
	mostLengthShare = 0.1
)

// mostLines is how many cylinders, or planes, a draft lists at most: more than a page is not
// read (assumed). TestDraftLeavesOutSmallPlanes notices it.
const mostLines = 24
