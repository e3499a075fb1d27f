// Package step writes exact solids and faces for CAD, as ISO 10303-21 (clear text encoding)
// files of ISO 10303-242 (AP242).
//
// A Body is what a turned or drilled part is: floors perpendicular to one axis, bounded by
// closed contours, and walls along that axis between two contours. Lengths are millimetres,
// the axis is Z of the body's frame. A body in which every edge belongs to two faces is
// written as a solid, any other as an open shell. Numbers are written with all their digits.
//
// It knows nothing of scans, and of shapes only planes, cylinders and cones about the axis.
package step
