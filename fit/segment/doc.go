// Package segment divides a scan into planes, cylinders, cones and spheres.
//
// Input is a mesh.Scan with normals (mesh.EstimateNormals), a mesh or a cloud, in
// millimetres; output is a Segmentation: each surface with its least-squares fit
// and its points, and which surface each point and triangle belongs to. Nothing
// need be told: spacing and noise come from the data. It knows no holes and no
// tolerances; package bolt makes holes of these surfaces.
//
// # A scanned mesh or a cloud
//
// The method is RANSAC (Fischler & Bolles 1981) with localised samples and
// connected supports (Schnabel, Wahl & Klein 2007), on a thinned scan:
//
//  1. Spacing and noise are estimated on a few dozen places of the scan, one side
//     of a sheet at a time (textureOf, mesh.EstimateSampling). Three standard
//     deviations are the first half width of a surface's band.
//  2. At most half a million of the points are thinned to some 60,000 nodes, each
//     the mean of those of a grid cell that face one way (thin), and joined to
//     their twelve nearest, but not across gaps (connect). In a dense cloud,
//     points alone in their surroundings make no node.
//  3. A trial draws a seed and collects patches of several sizes round it
//     without a step over a crease. Each suggests, in closed form from positions
//     and normals, a plane (Pearson 1901), a cylinder, a cone and a sphere, wide ones
//     also the plane and the cylinder square to each face found so far (square). Those
//     that explain most of their patch are grown over connected nodes, by turns
//     of flooding and least squares. Supports compete by their MSAC score (Torr &
//     Zisserman 2000), weighed by how well the normals agree, within the band
//     that a true surface of that size needs; the simpler kind wins ties.
//  4. Trials run in batches of fixed size. The best of a batch grow to their full
//     size, are tried as the other kinds too, and stay if they are wide, dense and
//     bent enough to be no chance, and no bend of a rounded edge.
//  5. From the large faces is learnt how far the nodes of a true surface stray,
//     by the size of the patch: scan noise is correlated, so that large faces
//     look rougher than small ones (learn). Chamfers, countersinks, steps and ring
//     faces are looked for about the axes that are known by then (coaxial); slices
//     of them that were found before are part of them (yield). About such an axis a
//     narrow strip is fitted to its nodes away from its edges (core); elsewhere that
//     would make faces of slices of a freeform surface.
//  6. A surface whose surroundings mostly go on smoothly is a slice of a freeform
//     surface or a fillet and is dropped (fade).
//  7. All points are handed to the surfaces whose nodes are in their cell, or in
//     the next, in one pass (take). The others are searched again up to the
//     scan's own density, where small holes are, without those that are alone
//     (crowded), and without trials beside the surfaces known: most of what is
//     left is the rounding of their edges (leave). What the coarser level would
//     have found is not grown again (searched). Pieces of one surface are
//     joined (merge), and each is fitted to some 20,000 of its points away from
//     its edges, which scanners round.
//
// # Time and memory
//
// What is done for every point is one look for spacing and noise and one for
// its surface, in chunks, on all cores; the rest is on nodes, whose number does
// not grow with the scan. Ten million points need some 0.2 µs of a core each and
// 24 bytes beyond the scan's own, the nine of the result among them
// (BenchmarkSegment, BenchmarkStages). The context is looked at between chunks
// and between trials, every few milliseconds.
//
// # A sparse cloud of a drawing
//
// Points strewn over the surfaces of a drawing lie on them to the last digits, so
// that the distance alone tells what is on a surface, in a band of a thousandth of
// the spacing, however narrow the surface. Where most places of a cloud of up to
// 150,000 points say so, each free point is a seed for planes, cylinders, cones
// and spheres through as few of its neighbours as settle them (Fischler & Bolles
// 1981), which grow over connected points and count where what lies on them ends
// there. Planes square to a direction that is known by then, and cylinders about a
// known axis, are found by how many free points agree in the one number that is
// left, however narrow they are (sharplevel.go). In the end each point goes to the
// nearest (sharp.go). Facets of round walls, of points strewn over a drawing's mesh,
// are given up again (sharpshed.go). What is left is searched as above, and if that
// is more than half, all of it.
//
// # A mesh of large triangles
//
// A drawing's mesh has vertices on edges only, a thinned scan few on curves. There the
// elements are flat panels, triangles in one plane, beside those that share an edge. The
// search is the same; a panel belongs to a surface if its corners lie on it and it faces
// as the surface does, within half of the widest step that flat sides of a curved surface
// have. The noise of the corners is estimated from neighbouring triangles that are all but
// coplanar (panelMesh.cornerNoise); where it is no more than rounding, the panels that no
// curved surface takes are the planes (panels.go). A scan that its points show badly is
// searched by its triangles, too, and the better explanation counts.
//
// The same scan, options and seed give the same result at any number of cores.
// Points in another order, or a part moved or scaled, give the same surfaces but
// for chance at their edges.
//
// # Limits
//
// A part that is mostly freeform is searched at no more than 300,000 nodes.
// Walls and chamfers narrower than about five spacings, or of a radius below two
// and a half, are not told on noisy scans. Tori and freeform surfaces belong to nothing.
//
// Sources:
//
//   - Fischler, Bolles: Random sample consensus, Comm. ACM 24 (1981) 381-395.
//   - Schnabel, Wahl, Klein: Efficient RANSAC for point-cloud shape detection,
//     Computer Graphics Forum 26 (2007) 214-226.
//   - Torr, Zisserman: MLESAC: a new robust estimator with application to
//     estimating image geometry, Comput. Vis. Image Underst. 78 (2000) 138-156.
//   - Pearson: On lines and planes of closest fit, Phil. Mag. 2 (1901) 559-572.
package segment
