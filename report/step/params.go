package step

// What decides which measured faces meet. TestVolumeOfASimulatedScan notices a change.
const (
	// maxTilt is the sine of the largest angle, 2 degrees, between an axis or normal and
	// the part's axis at which both count as parallel: short walls show it no better.
	maxTilt = 0.035
	// endGap is how far, as a share of its length, and minEndGap how far in mm at least, a
	// wall may end from the face it goes to: scanners round the edge between.
	endGap, minEndGap = 0.3, 2.0
	// levelGap is the distance, mm, within which faces that look the same way are one level.
	levelGap = 0.05
	// coneOff is how far, as a share of its radius, the axis of a chamfer or countersink may
	// be from the axis of the wall that it ends: the axis of a narrow cone is known badly.
	coneOff = 0.1
	// overCut is by how many degrees more than a flat side leaves of it a round outline may be
	// seen, since the edge between them is rounded. TestAFlatSideCutsTheOutline.
	overCut = 10
)
