// Package pattern finds patterns among features of one plane, names what they were meant
// as, and lays nominal patterns on measured places.
//
// Features (holes, studs, slots) come with place, size and kind, places with their joint
// covariance, in millimetres. Search finds rings, grids, rectangles and lines, Pair two
// alike; Readings names the ring that places on a circle were meant as, with
// probabilities; To lays a nominal pattern on places by a similarity, each part held where
// the caller knows it, and says how far each place lies from it, with the covariance of
// that; FitRing and ToGrid measure rings and grids; Assemble says whether two patterns
// bolt up; Clock turns one against another so that most material is left between their
// holes. Angles are counter-clockwise.
//
// A pattern is found, and named, by the odds that drilling errors and uncertainties give
// it against features put anywhere (Bayes; search.go, nominal.go). Priors are in
// params.go: common practice, no source.
//
// It does not find patterns of unequal steps that are no multiple of 5 degrees, nor
// grids whose rows are shifted or not at right angles, nor more than one feature in five
// missing from a grid. It measures no feature; package bolt does.
package pattern
