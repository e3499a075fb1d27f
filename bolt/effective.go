package bolt

import (
	"context"
	"math"
	"slices"
	"sync"

	"spotface/mesh/parallel"
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
// as the means of two bins have it. σ, q and L by restricted maximum likelihood,
// which allows for what the fit has taken out of the residuals (Patterson and
// Thompson, Biometrika 58 (1971) 545-554, eq. 9 with the scale profiled out), on a
// grid of q and L; the grid points' likelihoods then weigh the covariances that
// they give, so that not knowing the length widens the uncertainty. The fit that is made
// with it is in generalised.go and weigh.go.

// arcNoise is the noise of a kind of feature: grid points of the model and
// their weights.
type arcNoise struct {
	kernel []kernel
	shape  []int     // of each grid point the number of its kernel
	q      []float64 // variance that hangs together, over σ²
	sigma2 []float64
	weight []float64 // the last is that of no correlation
	free   float64   // degrees of freedom of sigma2
	known  float64   // weight of the noise that the face shows
	// unseen: the residuals look white, and no face is large and dense enough to
	// show whether they are; see unseenWarning.
	unseen bool
}

// unseenWarning says what the figures do not hold where noise is unseen. (Of parts of
// six holes seen all round, a tenth of the noise shared over a radius, centres scatter
// by 1.2 times what is stated if its kernel is exponential, by 1.4 if it is normal.)
const unseenWarning = "Round the holes each point seems to err by itself, and no face shows enough of the noise to be sure. " +
	"If a tenth of it were shared over the width of a hole, the scan's part of the uncertainties would be up to 1.4 times as large."

// The grid. Lengths are in median radii; shares are variance that hangs together
// and shows, which is what a circle does not take out, over the white variance of
// a median feature's bin means.
var (
	gridLength = [...]float64{0.15, 0.2, 0.27, 0.37, 0.5, 0.67, 0.9, 1.2, 1.65, 2.2}
	gridSmooth = [...]float64{0.15, 0.18, 0.21, 0.245, 0.285, 0.335, 0.39, 0.455, 0.53, 0.62, 0.72, 0.84, 0.98, 1.15, 1.35, 1.65, 2.2}
	gridShare  = [...]float64{0.25, 1, 4, 16, 64, 256, 1024}
)

// Prior weights of a share of a kernel of length l, in radii, for each step of
// ln l: smoothPrior, and roughPrior·l of the rougher. Residuals show the length of
// smooth noise; that of rough noise they hardly show, and long waves that they do
// not show move the circle most. They are chosen so that intervals cover alike at
// all lengths (see TestStudyCoverage), as are the shares of two scales and of no
// correlation at all, which stands for the shares below the grid's too, and the
// power of the share, by which rough noise without any white is rarer.
//
// knownPrior is that of the face's own noise, four fifths of that of all other kernels
// together. The face shows its shape by some thousand points, the bins of a few holes
// hardly tell kernels apart, and noise of three lengths is none of the grid's; but
// normal kernels are only like it, and trusted three times as much they made intervals
// 4 % shorter than they may be. Where the face has waves, white noise is less likely
// for the holes too: waveWhite. (TestStudyCoverageWithTheFace shows what these make of it.)
//
// How much of the noise hangs together the residuals show, unless it is little and
// reaches as far as a hole is wide: a circle then takes nearly all of it out. So the
// holes' noise is taken to be made up as the face's by as much as that is white and as
// circles take its waves out (ratioPrior, times the cube of what they take), with
// ratioWeight for steps of two from half to eight times the face's ratio: a face has
// few waves, and too little of them is the worse mistake.
const (
	smoothPrior   = 1.0
	roughPrior    = 1.0
	roughPower    = -0.1
	twoScaleShare = 0.5
	whitePrior    = 20.0
	waveWhite     = 6.0
	knownPrior    = 4.0
	ratioPrior    = 240.0
)

var ratioWeight = [...]float64{1.0 / 16, 4.0 / 16, 6.0 / 16, 4.0 / 16, 1.0 / 16}

// span returns the part of the grid in ln length that l[i] stands for.
func span(l []float64, i int) float64 {
	return math.Log(l[min(i+1, len(l)-1)]/l[max(i-1, 0)]) / 2
}

// gridKernel is a kernel of the grid. The share s of it has the prior weight
// prior·s^power.
type gridKernel struct {
	kernel
	prior, power float64
}

// noiseGrid returns the kernels that are tried on holes of radius r.
func noiseGrid(r float64, known waves) []gridKernel {
	var out []gridKernel
	for i, l := range gridLength {
		prior := roughPrior * l * span(gridLength[:], i)
		out = append(out, gridKernel{kernel{length: l * r}, prior, roughPower})
		if l > 0.3 && l < 0.8 {
			out = append(out, gridKernel{kernel{length: l * r, short: l * r / 4}, twoScaleShare * prior, roughPower})
		}
	}
	for i, l := range gridSmooth {
		k := kernel{waves: waves{length: []float64{l * r}, share: []float64{1}}}
		out = append(out, gridKernel{k, smoothPrior * span(gridSmooth[:], i), 0})
	}
	if len(known.length) > 0 {
		out = append(out, gridKernel{kernel{waves: known}, knownPrior, 0})
	}
	return out
}

// learnNoise weighs the grid for circles of radius r by the residuals of features of one
// kind.
//
// Bins are taken two together: what moves a circle is the noise's slow part,
// and likelihood over fine bins would choose the kernel by its fast part.
func learnNoise(ctx context.Context, r float64, all []arcSeries, known waves, jobs int) (arcNoise, error) {
	like := newLikelihood(all)
	var white []float64
	for _, s := range all {
		white = append(white, s.coarse().white())
	}
	w := median(white)
	grid := noiseGrid(r, known)
	shares := len(grid) * len(gridShare)
	n := shares + len(ratioWeight) + 1
	g := arcNoise{shape: make([]int, n), q: make([]float64, n), sigma2: make([]float64, n), weight: make([]float64, n), free: like.free}
	for _, k := range grid {
		g.kernel = append(g.kernel, k.kernel)
	}
	logs := slices.Repeat([]float64{math.Inf(-1)}, n)
	try := func(i int, l *likelihood, shape int, q, prior float64) {
		logs[i], g.sigma2[i] = l.at(q)
		logs[i] += math.Log(prior)
		g.shape[i], g.q[i] = shape, q
	}
	alone := whitePrior
	if len(known.length) > 0 {
		alone = waveWhite
	}
	try(n-1, like, 0, 0, alone)
	var spare sync.Pool
	err := parallel.Chunks(ctx, jobs, len(grid), 1, func(i, _ int) {
		l, _ := spare.Get().(*likelihood)
		if l == nil {
			l = like.twin()
		}
		visible := l.use(grid[i].kernel)
		unit := w / visible
		for k, share := range gridShare {
			try(i*len(gridShare)+k, l, i, share*unit, grid[i].prior*math.Pow(share, grid[i].power))
		}
		if i == len(grid)-1 && known.ratio > 0 {
			for k, weight := range ratioWeight {
				prior := ratioPrior * weight * math.Pow(max(0, 1-visible), 3) / (1 + known.ratio)
				try(shares+k, l, i, known.ratio*math.Ldexp(1, k-1), prior)
			}
		}
		spare.Put(l)
	})
	if err != nil {
		return g, err
	}
	top := slices.Max(logs)
	var sum float64
	for k, log := range logs {
		g.weight[k] = math.Exp(log - top)
		sum += g.weight[k]
	}
	for k := range g.weight {
		g.weight[k] /= sum
	}
	if len(known.length) > 0 { // the last kernel, and the ratios
		for _, w := range g.weight[shares-len(gridShare) : n-1] {
			g.known += w
		}
	}
	g.unseen = g.weight[n-1] > 0.2 && !known.show(r)
	return g, nil
}
