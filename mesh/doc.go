// Package mesh holds a scan, point cloud or triangle mesh, and what can be
// said of it without knowing any shape: welding, dropping of broken triangles,
// normals, point spacing and noise, boundary loops and neighbours.
//
// Lengths are millimetres. It knows nothing of files (package scanio reads and
// writes them), nor of planes, cylinders or holes (package fit does).
//
// Build makes a scan from points and triangles. Points of exactly equal
// coordinates are welded; triangles that are broken, of zero area or repeated,
// and points of a cloud that are broken or repeated, are left out and counted
// in Removed.
package mesh
