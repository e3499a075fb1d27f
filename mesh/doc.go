// Package mesh holds a scan, point cloud or triangle mesh, and what can be
// said of it without knowing any shape: reading and writing files, welding,
// dropping of broken triangles, islands, normals, point spacing and noise,
// rims (open edges) and neighbours.
//
// Lengths are millimetres. It knows nothing of planes, cylinders or holes;
// package fit does.
package mesh
