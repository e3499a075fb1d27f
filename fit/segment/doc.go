// Package segment divides a scan into planes, cylinders, cones and spheres.
//
// Input is a mesh.Scan with normals (mesh.EstimateNormals), a mesh or a cloud, in
// millimetres. Output is a Segmentation: each surface with its least-squares fit, and
// the surface that each point and triangle belongs to. Nothing need be given: spacing
// and noise come from the data. The package knows no holes and no tolerances; package
// bolt makes holes of these surfaces.
//
// # A surface is shape + form + noise
//
// The shape is the plane, cylinder, cone or sphere. The form is how the real surface
// leaves it: a bow, dents, cast texture. The noise is the scanner's. Form is smooth from
// node to node, noise is not, and each has a limit of its own.
//
// Noise is one number for the scan (tolerance.go). It is estimated on a few dozen small
// places; the half width of a surface's band is three standard deviations of it, or more
// where the spacing or the size of the scan asks for that. Small places do not show all
// noise. After each of the two passes for large surfaces the band is therefore widened,
// at most twofold in all, to the residuals of the median large surface, by area (learn).
//
// Form is followed over smooth links between neighbouring nodes (form.go): neither node
// is off the other's tangent plane, on the average of both, by more than the band and a
// twentieth of their distance. A step or an outlier breaks a link, a crease turns the
// normals, which are averaged over the links. A node beyond the band belongs to a surface
// with form
//
//   - if it is no farther off the shape than a hundredth of the surface's extent
//     (formLimit), or than Options.Form,
//   - if its averaged normal leans by no more than 8 degrees (formTilt),
//   - and if it is reached over a smooth link.
//
// The whole leans by no more than 2.5 degrees root mean square, by the median (meanTilt),
// unless its residuals are no more than noise. A curved surface with form must bend by four
// times that height. Only surfaces of 200
// nodes or more have form. It is in the residuals of the surface and in the covariance,
// which comes from clusters of neighbouring points; Surface.Form names its kind. If
// Options.HalfWidth is given and Options.Form is not, there is no form, nor if
// Options.Form is less than the noise.
//
// # A scanned mesh or a cloud
//
// The method is RANSAC (Fischler & Bolles 1981) with localised samples and connected
// supports (Schnabel, Wahl & Klein 2007), on a thinned scan:
//
//  1. Spacing and noise are estimated, one side of a sheet at a time (samplingOf).
//  2. At most half a million points are thinned to some 60,000 nodes, each the mean of
//     the points of a grid cell that face one way (thin). Nodes are joined to their
//     twelve nearest, but not across gaps (connect).
//  3. A trial draws a seed and collects patches of 14 to 360 nodes round it without a
//     step over a crease. Each suggests in closed form a plane (Pearson 1901), a
//     cylinder, a cone and a sphere. The best grows over connected nodes, by turns of
//     flooding and least squares. They compete by their MSAC score (Torr & Zisserman
//     2000); the simpler kind wins ties
//     (search.go, grow.go).
//  4. Trials run in batches of fixed size. The best of a batch grow to full size and
//     are tried as the other kinds. A surface must be wide, dense and bent enough to be
//     no chance, and must not be the rounding of an edge (wide).
//  5. After each pass for large surfaces, these grow on with form, over free nodes and
//     over pieces of the same surface; then the free nodes are searched for further
//     surfaces with form (withForm). What is left in one piece and averages out to a
//     cylinder perpendicular to a face is the wall of a tapped hole (roughWalls).
//     Chamfers, steps and ring faces are looked for about the axes that are known by
//     then (coaxial).
//  6. All points are assigned in one pass, each to the nearest surface whose nodes are
//     in its cell or next to these; where a surface has form, distance is from the form, not
//     from the shape (assign). The rest is searched again up to the scan's own density,
//     where small holes are.
//  7. Pieces of one surface are joined, by their own residuals where these are form
//     (merge). Each surface is fitted to some 20,000 of its points away from its edges,
//     which scanners round (Segmentation.Interior). A whole cylinder is a cone if its
//     taper is more than noise, and fifty times what form and noise bring, in squares,
//     into other waves of its length (taper).
//
// Points of what is dropped belong to no surface: slices of freeform surfaces, whose
// border mostly goes on smoothly (fade); dust in a cloud, which is no sheet (sheet);
// partial round surfaces without a point away from their own edge (narrow); small closed
// pieces of a mesh that float beside the part (junk).
//
// # A mesh of large triangles
//
// The mesh of a drawing has vertices on edges only, a thinned scan few on curves. The
// elements of the search are then flat panels: triangles in one plane, beside those that
// share an edge. A panel belongs to a surface if its corners lie on it and it faces as the
// surface does, within half of the widest step that flat sides of a curved surface have.
// Noise is estimated from neighbouring triangles that are all but coplanar
// (panelMesh.cornerNoise). Where it is no more than rounding, panels that no curved surface
// takes are the planes. Panels have no form.
//
// A mesh is searched by panels if it has less than 100 vertices or sides of very unlike
// lengths; less unlike ones are enough where most vertices lie on edges of flat sides
// (isTessellated). A small mesh of unlike sides of which the points explain too little is
// searched both ways.
//
// # A sparse cloud of a drawing
//
// Points strewn over the surfaces of a drawing lie on them to the last digits. The
// elements of the search are then the points, and its band is a thousandth of the
// spacing. The distance alone decides, not the normal (tolerance.exact). A seed and its
// neighbours suggest each kind through as few of them as settle it, and through fewer about
// the directions and axes that are known by then (samples). Facets of a round wall go on
// smoothly and are dropped (fade). If that explains less than half of the points, or if the
// neighbours of no point of a sample lie on one shape (looksExact), the cloud is searched
// as any other. Exact clouds have no form.
//
// # Time and memory
//
// For every point there is one look for spacing and noise and one for its surface, in
// chunks, on all cores. The rest works on nodes, whose number does not grow with the
// scan (BenchmarkSegment, BenchmarkStages). The context is checked between chunks and
// trials. The same scan, options and seed give the same result at any number of cores.
// Points in another order, or a part moved or scaled, give the same surfaces but for
// chance at their edges.
//
// # Limits
//
// Form larger than the limits above splits a surface or leaves parts of it free. A part
// that is mostly freeform is searched at no more than 300,000 nodes. On noisy scans
// walls and chamfers narrower than about five spacings are not found, nor radii below
// two and a half. Tori and freeform surfaces belong to nothing.
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
