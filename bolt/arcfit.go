package bolt

import "math"

// estimate is a least-squares circle through a series' bins.
type estimate struct {
	beta [3]float64    // δx, δy, δr, mm
	cov  [3][3]float64 // of beta, mm²
	// follow is how the centre follows if the radius is held at another value,
	// mm a mm: least squares' own, whatever the noise.
	follow [2]float64
}

// estimate fits by weighted least squares, w = 1/(1/n + q), and gives the
// covariance that this has under the noise: (XᵀWX)⁻¹ XᵀW σ²V WX (XᵀWX)⁻¹,
// averaged over the grid by its weights. (Generalised least squares would trust
// the kernel's shape, which the data hardly show, to weigh the ends of an arc
// against its middle; this does not.)
//
// It works on the coarse bins that the noise was learned on: a kernel shorter
// than a bin looks white to it, and finer bins would average that white away.
func (g arcNoise) estimate(s arcSeries) (estimate, bool) {
	if c := s.coarse(); len(c.y) >= 6 {
		s = c
	}
	best := 0
	for k := range g.weight {
		if g.weight[k] > g.weight[best] {
			best = k
		}
	}
	m := len(s.y)
	x := make([][3]float64, m)
	var a [3][3]float64
	var b [3]float64
	for i := range m {
		sin, cos := math.Sincos(s.theta[i])
		w := 1 / (1/s.n[i] + g.q[best])
		x[i] = [3]float64{cos, sin, 1}
		for p := range 3 {
			for q := range 3 {
				a[p][q] += w * x[i][p] * x[i][q]
			}
			b[p] += w * x[i][p] * s.y[i]
		}
		for p := range 3 {
			x[i][p] *= w // from here on WX
		}
	}
	var e estimate
	beta, inv, ok := solveSPD(a, b)
	if !ok {
		return e, false
	}
	e.beta = beta
	e.follow = [2]float64{inv[0][2] / inv[2][2], inv[1][2] / inv[2][2]}
	// The mean covariance over the grid, by chord.
	var white float64
	var slow [chordSteps + 1]float64
	for k, weight := range g.weight {
		if weight < 1e-4 && k != best {
			continue
		}
		white += weight * g.sigma2[k]
		if f := weight * g.sigma2[k] * g.q[k]; f > 0 {
			for c := range slow {
				slow[c] += f * g.kernel[k].at(2*s.radius*float64(c)/chordSteps, s.depth)
			}
		}
	}
	var mid [3][3]float64
	for i := range m {
		for j := range m {
			at := chordSteps * math.Abs(math.Sin((s.theta[i]-s.theta[j])/2))
			c := min(int(at), chordSteps-1)
			v := slow[c] + (at-float64(c))*(slow[c+1]-slow[c])
			if i == j {
				v = slow[0] + white/s.n[i]
			}
			for p := range 3 {
				for q := range 3 {
					mid[p][q] += v * x[i][p] * x[j][q]
				}
			}
		}
	}
	for p := range 3 {
		for q := range 3 {
			for k := range 3 {
				for l := range 3 {
					e.cov[p][q] += inv[p][k] * mid[k][l] * inv[l][q]
				}
			}
		}
	}
	return e, true
}
