// Package scansim simulates scans of bolted parts whose truth is known
// exactly: every face, hole and bolt circle, the pose, and which face each
// triangle or point belongs to. It feeds tests, the demo and studies.
//
// A Part is a solid built from half-spaces, cylinders, cones and balls by
// union, intersection and subtraction. Every surface is a Face with an id.
// Fused makes a triangle mesh of it the way volumetric fusion does: smoothed
// distance field on voxels, iso-surface, correlated noise, hidden walls and
// gaps. Cloud makes a point cloud: faces sampled by visibility, noise
// independent or shared, outliers. WithForm gives faces the form that real parts
// have (bow, dents, cast texture, lobes, or any other height); both kinds of scan show
// it, and Part.Points are of the formed face. All follow from a seed, at
// any number of cores.
//
// Lengths are millimetres, angles counter-clockwise seen from outside. A part
// lies in its own frame with the mounting face in z = 0 and +z out of the
// material; a scan lies wherever its pose puts it. Writing files and units are
// the business of package scanio; measuring is that of fit and bolt.
//
// Sources:
//
//   - Solids as min and max of signed distances: Ricci, A constructive geometry
//     for computer graphics, The Computer Journal 16 (1973) 157-160. Dropping
//     what cannot matter in a box: Duff, Interval arithmetic and recursive
//     subdivision for implicit functions and constructive solid geometry,
//     SIGGRAPH 1992, 131-138; here with the Lipschitz constant 1 of a distance
//     in place of interval arithmetic.
//   - Iso-surface: Gibson, Constrained elastic surface nets, MICCAI 1998,
//     888-898, without the elastic relaxation (naive surface nets).
//   - Rays: Hart, Sphere tracing, The Visual Computer 12 (1996) 527-545.
//   - Random rotation: Shoemake, Uniform random rotations, Graphics Gems III
//     (1992) 124-132.
package scansim
