package bolt

// estimate is a circle through a series' bins.
type estimate struct {
	beta [3]float64    // δx, δy, δr, mm
	cov  [3][3]float64 // of beta, mm²
	// follow is how the centre follows if the radius is held at another value,
	// mm a mm.
	follow [2]float64
}

// estimate fits by least squares weighted by W, the inverse of the diagonal of the
// grid's mean covariance V̄, and gives the covariance that this has under it:
//
//	β = (XᵀWX)⁻¹ XᵀWy      Cov(β) = (XᵀWX)⁻¹ XᵀW V̄ WX (XᵀWX)⁻¹
//
// (Generalised least squares would weigh the ends of an arc against its middle by
// the kernel's shape, and the ends of walls are what edges and shadows bend.)
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
	m := len(b.x)
	wx := make([][3]float64, m)
	var a [3][3]float64
	var h [3]float64
	for i, x := range b.x {
		w := 1 / (1/b.n[i] + slow[0])
		for p := range 3 {
			wx[i][p] = w * x[p]
			for q := range 3 {
				a[p][q] += w * x[p] * x[q]
			}
			h[p] += w * x[p] * x[3]
		}
	}
	beta, inv, ok := solveSPD(a, h)
	if !ok {
		return e, false
	}
	e.beta = beta
	e.follow = [2]float64{inv[0][2] / inv[2][2], inv[1][2] / inv[2][2]}
	var k triangle
	k.lay(b, &slow)
	var mid [3][3]float64 // XᵀW V̄ WX
	for i := range m {
		for j := range i + 1 {
			v := k[i][j]
			if i == j {
				v = (v + 1/b.n[i]) / 2 // counted twice below
			}
			for p := range 3 {
				for q := range 3 {
					mid[p][q] += white * v * (wx[i][p]*wx[j][q] + wx[j][p]*wx[i][q])
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
