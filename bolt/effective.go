package bolt

import (
	"cmp"
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
// K is exp(-d/L) or exp(-d²/2L²) of unknown L, or the correlation by distance
// that the face's own noise has, see waves. σ, q and L by restricted maximum
// likelihood, which allows for what the fit has taken out of the residuals
// (Patterson and Thompson, Biometrika 58 (1971)
// 545-554, eq. 9 with the scale profiled out), on a grid of q and L; the grid
// points' likelihoods then weigh the covariances that they give, so that not
// knowing the length widens the uncertainty.

// likeRadii puts series together whose radii differ by less than 2 %: holes of
// one drill. Their radii are taken to be the same when the noise is learned;
// what they differ by is the only sign of its longest waves. (Holes that do
// differ make it look larger, which is the safe side.) Series too short to
// tell anything are left out.
func likeRadii(all []arcSeries) [][]int {
	var order []int
	for i, s := range all {
		if len(s.y) >= 5 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(all[a].radius, all[b].radius) })
	var out [][]int
	for _, i := range order {
		if n := len(out); n > 0 && all[i].radius < 1.02*all[out[n-1][0]].radius {
			out[n-1] = append(out[n-1], i)
			continue
		}
		out = append(out, []int{i})
	}
	return out
}

// arcNoise is the noise of a kind of feature: grid points of the model and
// their weights.
type arcNoise struct {
	kernel []kernel
	q      []float64 // variance that hangs together, over σ²
	sigma2 []float64
	weight []float64
}

// The grid. Lengths are in median radii; shares are of the variance of a median
// feature's bin means.
var (
	gridLength = [...]float64{0.15, 0.22, 0.33, 0.5, 0.75, 1.1, 1.7, 2.5}
	gridShare  = [...]float64{0.25, 1, 4, 16, 64, 256}
)

// learnNoise weighs the grid by the residuals of features of one kind.
//
// Bins are taken three together: what moves a circle is the noise's slow part,
// and likelihood over fine bins would choose the kernel by its fast part.
func learnNoise(fine []arcSeries, known waves) arcNoise {
	all := make([]arcSeries, len(fine))
	for i, s := range fine {
		all[i] = s.coarse()
	}
	var g arcNoise
	add := func(k kernel, q float64) {
		g.kernel, g.q = append(g.kernel, k), append(g.q, q)
	}
	add(kernel{}, 0)
	var radii, white []float64
	for _, s := range all {
		radii, white = append(radii, s.radius), append(white, s.white())
	}
	var kernels []kernel
	for _, l := range gridLength {
		kernels = append(kernels, kernel{length: l * median(radii)},
			kernel{waves: waves{length: []float64{l * median(radii)}, share: []float64{1}}})
	}
	if len(known.length) > 0 {
		kernels = append(kernels, kernel{waves: known})
	}
	for _, k := range kernels {
		for _, q := range gridShare {
			add(k, q*median(white))
		}
	}
	groups := likeRadii(all)
	logs := make([]float64, len(g.q))
	top := math.Inf(-1)
	for k := range g.q {
		var quad, logDet, dof float64
		for _, group := range groups {
			var sum, wr, wr2 float64 // Σ precision of r, with r, with r²
			for _, i := range group {
				s := all[i]
				f := s.factor(g.kernel[k], g.q[k])
				a, b, yy := f.normal(s)
				// Take the centre out: what is left of r has precision p about r.
				det := a[0][0]*a[1][1] - a[0][1]*a[1][0]
				solve := func(x, y float64) (float64, float64) {
					return (a[1][1]*x - a[0][1]*y) / det, (a[0][0]*y - a[1][0]*x) / det
				}
				ux, uy := solve(a[0][2], a[1][2])
				vx, vy := solve(b[0], b[1])
				p := a[2][2] - a[0][2]*ux - a[1][2]*uy
				h := b[2] - a[0][2]*vx - a[1][2]*vy
				if !(det > 0) || !(p > 0) {
					continue
				}
				r := s.radius + h/p
				quad += yy - b[0]*vx - b[1]*vy - h*h/p
				logDet += f.logDet + math.Log(det)
				dof += float64(len(s.y) - 2)
				sum += p
				wr += p * (r - all[group[0]].radius)
				wr2 += p * (r - all[group[0]].radius) * (r - all[group[0]].radius)
			}
			if sum > 0 {
				quad += max(0, wr2-wr*wr/sum)
				logDet += math.Log(sum)
				dof--
			}
		}
		if dof <= 0 {
			g.sigma2 = append(g.sigma2, 0)
			continue
		}
		quad = max(quad, 1e-30)
		g.sigma2 = append(g.sigma2, quad/dof)
		logs[k] = -logDet/2 - dof/2*math.Log(quad)
		top = max(top, logs[k])
	}
	var sum float64
	for k := range logs {
		w := math.Exp(logs[k] - top)
		g.weight = append(g.weight, w)
		sum += w
	}
	for k := range g.weight {
		g.weight[k] /= sum
	}
	return g
}
