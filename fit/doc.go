// Package fit fits planes, lines, circles, spheres, cylinders and cones to
// points by orthogonal least squares, with the covariance and a residual
// summary of each.
//
// Lengths are millimetres, angles inside covariances radians. Input is a slice
// of points in any order; it is neither changed nor kept. Package fit knows
// nothing of scans, holes or tolerances.
package fit
