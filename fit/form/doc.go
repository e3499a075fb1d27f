// Package form says how far a scanned plane or cylinder leaves its ideal shape: flatness
// and cylindricity, without the scan's noise. Lengths are millimetres.
//
// The measurand is the width of the minimum zone of the noiseless formed surface (ISO 1101,
// ISO 12180-1; from memory). The range of a perfect face's residuals is some nine times the
// scan's noise, so that it does not do. A surface is instead taken to be
//
//	slow terms + what is left of cells' means + noise
//
// Slow terms are bow and twist of a plane; ovality, lobes, taper, barrel and bend of a
// cylinder, fitted to the means of coarse cells. What noise does to them follows from how
// cells scatter about them and how alike neighbours are (package noise).
//
// What is left of the means of fine cells is form where a cell by itself leaves the others,
// such as a dent, and where the residuals exceed what noise they are known to have: texture,
// layers, a worn edge. Form that changes within a fine cell is allowed for by the variance
// that the means lack.
//
// Form is the range of both. Noise is taken off each slow term by what it is sure to add to
// its square (James and Stein, Proc. 4th Berkeley Symp. Math. Stat. Prob. 1 (1961) 361-379;
// from memory), and off the range of the rest in squares. The ends are the outermost points:
// a bow is widest at the edge.
//
// Limits: noise shared over a quarter of a face bends it as slowly as form does, and one
// scan does not distinguish them. Form shorter than that, and no larger than noise, passes
// for noise. The range is about the least-squares shape, which exceeds the minimum zone by
// a tenth at most where form is slow.
package form
