package bolt

import (
	"math"
	"slices"
)

// Neighbouring scan points share their error, so 5,000 points of a wall are
// worth far fewer. How many shows in the residuals along the circumference:
// they are averaged in bins of equal angle, and the bins of all features of a
// kind together tell how much of the noise is white and how much hangs
// together, and over what length.
//
// Model of the bin means y at angles θ of a circle of radius r, after a fit
// that leaves (δx, δy, δr):
//
//	y = X (δx, δy, δr)ᵀ + ε      X = [cos θ, sin θ, 1]
//	Cov(ε) = σ² V,  V = diag(1/n) + q K
//
// K is exp(-d/L), half of that and half exp(-4d/L), or exp(-d²/2L²), of unknown L,
// or the correlation by distance that the face's own noise has, see waves; each
// as the means of two bins have it. σ, q and L by restricted maximum likelihood, which allows for what the fit
// has taken out of the residuals (Patterson and Thompson, Biometrika 58 (1971)
// 545-554, eq. 9 with the scale profiled out), on a grid of q and L; the grid
// points' likelihoods then weigh the covariances that they give, so that not
// knowing the length widens the uncertainty.

// arcNoise is the noise of a kind of feature: grid points of the model and
// their weights.
type arcNoise struct {
	kernel []kernel
	q      []float64 // variance that hangs together, over σ²
	sigma2 []float64
	weight []float64
}

// The grid. Lengths are in median radii; shares are of the variance of a median
// feature's bin means. Long smooth noise shows its length sharply, and may have
// next to nothing white beside it.
var (
	gridLength = [...]float64{0.15, 0.2, 0.27, 0.37, 0.5, 0.67, 0.9, 1.2, 1.65, 2.2}
	gridSmooth = [...]float64{0.15, 0.2, 0.27, 0.37, 0.5, 0.58, 0.67, 0.75, 0.85, 0.95, 1.07, 1.2, 1.4, 1.65, 2.2}
	gridShare  = [...]float64{0.25, 1, 4, 16, 64, 256, 1024, 8192, 131072, 2097152}
)

// roughShares is the number of shares tried with a rough kernel, whose own short
// waves look white.
const roughShares = 7

// whitePrior is the prior weight of noise without correlation, where one share
// of one kernel has that of ln L that its length stands for, an exponential
// twice that. It stands for the shares below the grid's, which make no
// difference: two more a kernel.
const whitePrior = 30

// knownPrior is the prior weight of the face's own noise: as much as all other
// kernels together. The face shows its shape by some thousand points, the bins of
// a few holes hardly tell kernels apart, and noise of three lengths is none of
// the grid's.
const knownPrior = 12

// span returns the part of the grid in ln length that l[i] stands for.
func span(l []float64, i int) float64 {
	return math.Log(l[min(i+1, len(l)-1)]/l[max(i-1, 0)]) / 2
}

// learnNoise weighs the grid by the residuals of features of one kind.
//
// Bins are taken two together: what moves a circle is the noise's slow part,
// and likelihood over fine bins would choose the kernel by its fast part.
func learnNoise(all []arcSeries, known waves) arcNoise {
	like := newLikelihood(all)
	var radii, white []float64
	for _, s := range all {
		radii, white = append(radii, s.radius), append(white, s.coarse().white())
	}
	r, w := median(radii), median(white)
	g := arcNoise{}
	var logs []float64
	add := func(k kernel, shares int, prior float64) {
		like.use(k)
		for _, share := range gridShare[:shares] {
			q := share * w
			log, sigma2 := like.at(q)
			g.kernel, g.q, g.sigma2 = append(g.kernel, k), append(g.q, q), append(g.sigma2, sigma2)
			logs = append(logs, log+math.Log(prior))
		}
	}
	for i, l := range gridLength {
		prior := 1.5 * math.Pow(2*l, 0.25) * span(gridLength[:], i)
		add(kernel{length: l * r}, roughShares, prior)
		if l > 0.3 && l < 0.8 {
			add(kernel{length: l * r, short: l * r / 4}, roughShares, prior)
		}
	}
	for i, l := range gridSmooth {
		n := roughShares
		if l >= 0.5 {
			n = len(gridShare)
		}
		add(kernel{waves: waves{length: []float64{l * r}, share: []float64{1}}}, n, span(gridSmooth[:], i))
	}
	if len(known.length) > 0 {
		add(kernel{waves: known}, roughShares, knownPrior)
	}
	log, sigma2 := like.at(0)
	g.kernel, g.q, g.sigma2 = append(g.kernel, kernel{}), append(g.q, 0), append(g.sigma2, sigma2)
	logs = append(logs, log+math.Log(whitePrior))
	top := slices.Max(logs)
	var sum float64
	for _, log := range logs {
		w := math.Exp(log - top)
		g.weight = append(g.weight, w)
		sum += w
	}
	for k := range g.weight {
		g.weight[k] /= sum
	}
	return g
}
