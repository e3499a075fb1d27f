// Package mesh holds a scan, point cloud or triangle mesh, and what can be
// said of it without knowing any shape: reading and writing files, welding,
// dropping of broken triangles, islands, normals, point spacing and noise,
// rims (open edges) and neighbours.
//
// Lengths are millimetres. It knows nothing of planes, cylinders or holes;
// package fit does.
//
// # Files
//
// Read takes binary and text STL (Stereolithography Interface Specification,
// 1989), PLY of any form (Turk, The PLY Polygon File Format, 1994), the
// points, normals and faces of OBJ, and text clouds: x y z and perhaps a
// normal on a line, between spaces, tabs, commas or semicolons, with or
// without a header row. The format is told by the content, not by the
// extension. Files are decoded in blocks on all cores, and the result does
// not depend on their number. Memory follows what the file holds, never what
// it claims: 3 times a binary file or 8 times a text file at most, coordinates
// in fewer than four bytes and polygons of one-byte numbers aside.
//
// A file's unit is the caller's, else the file's own word for it in a comment,
// header or column name, else millimetres with a warning where that makes an
// unlikely part. Points of exactly equal coordinates are welded; triangles
// that are broken, of zero area or repeated, and points of a cloud that are
// broken or repeated, are left out and counted in Removed.
package mesh
