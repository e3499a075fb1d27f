package bolt

// estimate is a circle through a series' bins.
type estimate struct {
	beta [3]float64    // δx, δy, δr, mm
	cov  [3][3]float64 // of beta, mm²
	// follow is how the centre follows if the radius is held at another value,
	// mm a mm.
	follow [2]float64
}

// estimate fits by generalised least squares under the mean covariance V̄ of the
// grid, and gives the covariance that this has under it (Aitken's estimator):
//
//	β = (XᵀV̄⁻¹X)⁻¹ XᵀV̄⁻¹y      Cov(β) = (XᵀV̄⁻¹X)⁻¹
//
// It works on the bins that the noise was learned on.
func (g arcNoise) estimate(s arcSeries) (estimate, bool) {
	var e estimate
	var white float64
	var slow turns
	for k, weight := range g.weight {
		if weight < 1e-4 {
			continue
		}
		white += weight * g.sigma2[k]
		if f := weight * g.sigma2[k] * g.q[k]; f > 0 {
			c := g.kernel[k].turns(s.radius, s.depth)
			for i := range slow {
				slow[i] += f * c[i]
			}
		}
	}
	if !(white > 0) {
		return e, false
	}
	for i := range slow {
		slow[i] /= white
	}
	b := s.binned()
	var k, v triangle
	k.lay(b, &slow)
	v.factor(&k, 1, b.n)
	a, h, _ := v.normal(b.x)
	beta, inv, ok := solveSPD(a, h)
	if !ok {
		return e, false
	}
	e.beta = beta
	for p := range 3 {
		for q := range 3 {
			e.cov[p][q] = white * inv[p][q]
		}
	}
	e.follow = [2]float64{inv[0][2] / inv[2][2], inv[1][2] / inv[2][2]}
	return e, true
}
