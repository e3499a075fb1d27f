package fit

import (
	"cmp"
	"math"

	"spotface/mesh/geom"
)

// solved is the end of an iteration: the normal equations there, and how it
// went.
type solved struct {
	sums
	iters     int
	converged bool
}

// solve minimises the sum of squares by Levenberg–Marquardt: Madsen, Nielsen &
// Tingleff (2004), algorithm 3.16, with Marquardt's scaling (damping times the
// diagonal of J'J). Near the end it takes undamped Gauss–Newton steps and stops
// when these no longer shrink, which is at the rounding of the residuals: the
// cost, being flat there, would stop it at half the digits.
func solve(m model, c *cloud, opt Options) solved {
	maxIter, still := cmp.Or(opt.MaxIter, defaultIter), stillStep
	if opt.ShapeOnly {
		still = nearStep
	}
	w := newAccumulator(m, c)
	p := m.params()
	n := float64(len(c.x))

	var step [maxParams]float64
	var out solved
	if !m.try(&step) {
		out.f = math.Inf(1)
		return out
	}
	w.sum(&out.sums)
	m.accept()
	if math.IsNaN(out.f) || math.IsInf(out.f, 0) {
		return out
	}
	mu, nu := firstDamping, 2.0
	last := math.Inf(1) // size of the step before
	var next sums
	for out.iters < maxIter {
		out.iters++
		damp := mu
		if last < polishFrom {
			damp = 0 // polish
		}
		if !normalStep(&out.sums, p, damp, &step) {
			mu, last = max(mu*nu, leastDamping), math.Inf(1)
			nu *= 2
			if mu > mostDamping {
				return out
			}
			continue
		}
		// How far the step moves the surface, RMS, in scaled units.
		size, predicted := 0.0, 0.0
		for i := range p {
			size += out.a[i][i] * step[i] * step[i]
			predicted += step[i] * (damp*out.a[i][i]*step[i] - out.g[i])
		}
		size = math.Sqrt(size / n)
		next.f = math.Inf(1)
		if m.try(&step) {
			w.sum(&next)
		}
		// Each residual is sure to ε, so the sum of their squares to 2ε Σ|f| + nε²,
		// and Σ|f| ≤ √(nF): less of a change says nothing of the step.
		noise := out.f*costRounding + (2*math.Sqrt(n*out.f)+n*pointRounding)*pointRounding
		if !(next.f <= out.f+noise) {
			if size < stillStep { // at the rounding: nothing better is to be had
				out.converged = true
				return out
			}
			mu = max(mu*nu, leastDamping)
			nu *= 2
			last = math.Inf(1)
			if mu > mostDamping {
				return out
			}
			continue
		}
		gain := 1.0
		if damp > 0 && predicted > noise {
			gain = (out.f - next.f) / predicted
		}
		m.accept()
		out.sums = next
		t := 2*gain - 1
		mu *= max(leastCut, 1-t*t*t)
		nu = 2
		// Correlated parameters move much and the surface little: by the root of
		// predicted/n in an undamped step. Rounding of the residuals alone makes
		// predicted about pε².
		if size < still || damp == 0 && predicted < 4*float64(p)*pointRounding*pointRounding {
			out.converged = true
			return out
		}
		last = size
	}
	return out
}

// normalStep solves (A + damp diag A) step = -g of the parameters that are free by
// Cholesky's method on the matrix scaled to unit diagonal. False where it is not positive
// definite.
func normalStep(s *sums, p int, damp float64, step *[maxParams]float64) bool {
	var l [maxParams * maxParams]float64
	var d, x [maxParams]float64
	var free [maxParams]int
	n := 0
	for i := range p {
		if s.held>>i&1 != 0 {
			continue
		}
		if !(s.a[i][i] > 0) {
			return false
		}
		free[n], d[n] = i, 1/math.Sqrt(s.a[i][i])
		n++
	}
	for i := range n {
		for j := range i {
			l[i*n+j] = s.a[free[j]][free[i]] * d[i] * d[j]
		}
		l[i*n+i] = 1 + damp
		x[i] = -s.g[free[i]] * d[i]
	}
	if !geom.Cholesky(l[:n*n], n, leastPivot) {
		return false
	}
	geom.CholeskySolve(l[:n*n], x[:n])
	*step = [maxParams]float64{}
	for i := range n {
		step[free[i]] = x[i] * d[i]
	}
	return true
}
