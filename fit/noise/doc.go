// Package noise models the error that neighbouring points of a scan share, and how far
// it moves what is fitted to them.
//
// Neighbouring points share their error, so that 5,000 points of a wall are worth far
// fewer. Input are positions and residuals of one or more pieces of surface, as means
// over cells, and the terms that a fit has taken out of them. The package knows no shape.
// Lengths are millimetres.
//
// The covariance of two points a distance d apart is
//
//	Cov(ε_i, ε_j) = σ² (δ_ij + q K(d)),   K(d) = Σ_m c_m exp(-d²/2L_m²),   Σ c_m = 1
//
// σ² is the variance of the white part, the nugget; q σ² that of the correlated part. The
// lengths L_m are the same for all kernels, in steps of a fixed ratio. A smooth kernel is
// one of them. A rough one, exp(-d/L), is a sum over all: the scale mixture of normals in
// which L_m/L is the absolute value of a standard normal variable (Andrews and Mallows,
// Journal of the Royal Statistical Society B 36 (1974) 99-102; from memory). Noise of
// two lengths is the sum of two smooth ones (nested structures of Journel and Huijbregts,
// Mining geostatistics, 1978; from memory).
//
// Learn tries kernels and ratios q on a grid, and weighs each by its restricted
// likelihood, which allows for what the fit has taken out of the residuals (Patterson
// and Thompson, Biometrika 58 (1971) 545-554). A large face that has the noise, too,
// counts as evidence of the kernel and of q, with a variance of its own. Its noise is only
// about that of the other surfaces, and it has form: its likelihood counts to the power
// α/(α+n), n its coordinates (the coarsened posterior of Miller and Dunson, Journal of the
// American Statistical Association 114 (2019) 1113-1125; from memory). The result is the
// mixture of all of them: that the length is not known widens the uncertainty.
//
// Fit is least squares, with the covariance that it has under the mixture.
//
// Limits: waves longer than the longest kernel, and those that a fit takes out of every
// piece, are not seen. Hidden tells where nothing shows whether there are any.
package noise
