// Package hole says what the openings of a flat face are: round, a slot, a rectangle, or
// nothing that has a name.
//
// A face is laid on its own sheet, x and y in mm. Cover is where the scan shows it, Edge
// where the surface leaves it downwards; Places are where something is missing from it.
// Explain takes what a scan shows about one place, the points of a wall or of a rim, and
// finds the outline that explains them: all outlines are rounded rectangles, of which a
// circle and a slot are special cases, and one likelihood compares them.
//
// Piece by piece of an outline's length the scan shows the boundary on it, the face coming
// up to it, nothing at all, or the boundary or the face where the outline does not allow
// them. Each is so much more, or less, likely than where there is no such outline; the sum
// of the logarithms is the outline's gain. What was not scanned gains nothing and costs
// nothing. The outline of fewer numbers wins unless more of them gain enough
// (Schwarz, Annals of Statistics 6 (1978) 461-464).
//
// Limits: an outline that the scan shows less than a part of is not distinguished from others that
// pass through that part. Edges of the scan at the height of the face show nothing, so a
// gap in the scan is no opening. Openings with other outlines are not named.
package hole
