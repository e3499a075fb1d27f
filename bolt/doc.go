// Package bolt finds holes, studs and bolt circles in a segmented scan and
// measures how they are clocked.
//
// Lengths are millimetres; angles are counter-clockwise seen from outside
// looking at the face. It knows nothing of plans and output; package report
// does.
package bolt
