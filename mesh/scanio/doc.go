// Package scanio reads and writes scan files.
//
// Read takes binary and text STL (Stereolithography Interface Specification,
// 1989), PLY of any form (Turk, The PLY Polygon File Format, 1994), the
// points, normals and faces of OBJ, 3MF (3MF Consortium, core specification:
// meshes, components, build), and text clouds: x y z and perhaps a normal on a
// line, between spaces, tabs, commas or semicolons, with or without a header
// row. The format is recognised by its content, not by the extension. It returns a
// scan in millimetres, welded and cleaned by mesh.Build.
//
// A file is read in blocks of whole rows, in order. Several blocks are decoded
// at a time and put together in order, so the result does not depend on the
// number of cores. Coordinates are kept in the file's own precision and
// rounded once, to offsets from an origin that all of them have chosen. Memory
// follows what the file holds, never what it claims: 3 times a binary file or
// 8 times a text file at most, coordinates in fewer than four bytes aside.
//
// A file's unit is the caller's, else the file's own word for it in a comment,
// header or column name, or an attribute (3MF), else millimetres with a warning
// where that makes an unlikely part.
package scanio
