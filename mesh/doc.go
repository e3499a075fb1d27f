// Package mesh holds a scan, point cloud or triangle mesh, and what can be
// said of it without knowing any shape: welding, dropping of broken triangles,
// windings, normals, point spacing and noise, boundary loops and neighbours.
//
// Lengths are millimetres. It knows nothing of files (package scanio reads and
// writes them), nor of planes, cylinders or holes (package fit does).
//
// Build makes a scan from points and triangles. Points of exactly equal
// coordinates are welded; triangles that are broken, of zero area or repeated,
// and points of a cloud that are broken or repeated, are left out and counted
// in Removed. Windings that disagree are made to agree, and closed meshes that are
// inside out are turned. New is Build for slices. Nothing else here changes a scan.
//
// # Sources
//
// Normals of meshes: Thürmer & Wüthrich (1998), Computing vertex normals from
// polygonal facets, J. Graphics Tools 3(1). Sides of clouds: Hoppe, DeRose, Duchamp,
// McDonald & Stuetzle (1992), Surface reconstruction from unorganized points,
// SIGGRAPH 92; Xie, Wang, Hua, Qin & Kaufman (2003), Piecewise C1 continuous surface
// reconstruction of noisy point clouds via local implicit quadric regression, IEEE
// Visualization 2003. Local fits: Rousseeuw & Leroy (1987), Robust Regression and
// Outlier Detection; Torr & Zisserman (2000), MLESAC, Computer Vision and Image
// Understanding 78. k-d tree: Friedman, Bentley & Finkel (1977), ACM Trans. Math.
// Softw. 3(3). (Titles and places from memory.)
package mesh
