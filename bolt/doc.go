// Package bolt finds holes, studs and bolt circles in a segmented scan and
// measures how they are clocked.
//
// Input is a scan (mesh.Scan) and the planes and cylinders that it was divided
// into (segment.Segmentation). Output is a Measurement: holes with centre,
// diameter and the uncertainty of both; bolt circles with pitch diameter,
// nominal pattern, clocking and spacing; the datum frame. Clock does the last step alone,
// on holes from anywhere. Lengths are millimetres; angles are counter-clockwise seen from
// outside looking at the face. It knows nothing of plans and output; package report does.
//
// How a hole is found and measured:
//
//   - By its wall: an internal cylinder perpendicular to a face that ends at it (or at
//     a countersink in it) is laid on the face along the face's normal and
//     fitted there as a circle, its rounded ends left out. The axis is the
//     face's normal: a short wall shows its own direction badly. Where its tilt
//     is significant, the centre is where its own axis meets the face (arcnoise.go).
//   - By its rim, on meshes: where a disc of the face is free of points, the
//     place where the surface turns down is fitted as a circle. Scanners round
//     edges, so that a rim reads large; the width of the rounding is fitted to
//     all rims together and its effect taken off (profile.go), off walls too,
//     which the same smoothing moves inward (wall.go). Gaps in the scan
//     do not turn down; corners and notches go on to other edges. Where a gap runs
//     into the hole a stretch of its edge is enough (opening.go). On a cloud, by a
//     round disc of the face without points (disc.go). Of a sheet up to five widths of
//     its rounded edges thick no part of a wall is clear of them: its holes are measured
//     so, and their diameters are unsure by the whole correction.
//   - By both, where the wall was seen in part, the rim agrees with it and makes it
//     surer (both.go).
//   - How far neighbouring points share their error is learned from the
//     residuals along the circumference, from what equal holes differ by, and
//     from the face (package noise, arcnoise.go), for holes of like radius at a
//     time; every covariance contains it.
//   - The main bore is a hole of the mounting face, whose normal its axis is held to;
//     where it meets the face is the frame's origin (bore.go).
//   - Slots and rectangles are measured by their whole outline, by wall or by rim
//     (long.go).
//   - Holes of one bolt circle share a radius as far as they agree (shared.go).
//
// What it does not do: holes on curved faces; diameters in sheets thinner than two and a half
// widths of their rounded edges, which read up to 1 mm wide; slots of a cloud without
// their walls; on a cloud it cannot tell a round gap in the scan from a hole without
// a wall.
package bolt
