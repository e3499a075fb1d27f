package bolt

// estimate is a circle through a series' bins.
type estimate struct {
	beta [3]float64    // δx, δy, δr, mm
	cov  [3][3]float64 // of beta, mm²
	// follow is how the centre follows if the radius is held at another value,
	// mm a mm.
	follow [2]float64
	dof    float64 // degrees of freedom of cov
}

// estimate fits by least squares weighted by W, the inverse of the diagonal of the
// grid's mean covariance V̄, and gives the covariance that this has under it:
//
//	β = (XᵀWX)⁻¹ XᵀWy = Bᵀy      Cov(β) = Bᵀ V̄ B = Σ w_k Bᵀ V_k B
//
// It works on the bins that the noise was learned on; see refine for what is better.
//
// How far the covariances V_k disagree tells how well the noise is known. As
// variances go by an inverse gamma distribution with ν degrees of freedom, whose
// squared coefficient of variation is 2/(ν-4), the centre has the distribution of
// Student with ν.
func (g arcNoise) estimate(s arcSeries) (estimate, bool) {
	var e estimate
	var known []knownNoise
	var white, slow float64 // σ²; variance that hangs together
	var laid turns          // of the kernel that neighbours on the grid share
	at := -1
	for k, weight := range g.weight {
		if weight < 1e-4 {
			continue
		}
		n := knownNoise{weight: weight, sigma2: g.sigma2[k], q: g.q[k]}
		if n.q > 0 {
			if at != g.shape[k] {
				at = g.shape[k]
				laid = g.kernel[at].turns(s.radius, s.depth)
			}
			n.turns = laid
		}
		white += weight * n.sigma2
		slow += weight * n.sigma2 * n.q * n.turns[0]
		known = append(known, n)
	}
	if !(white > 0) {
		return e, false
	}
	b := s.binned()
	proj := make([][3]float64, len(b.x)) // WX, then B
	var a [3][3]float64
	var h [3]float64
	for i, x := range b.x {
		w := 1 / (1/b.n[i] + slow/white)
		for p := range 3 {
			proj[i][p] = w * x[p]
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
	for i, wx := range proj {
		proj[i] = [3]float64{dot3(inv[0], wx), dot3(inv[1], wx), dot3(inv[2], wx)}
	}
	var v, v2 float64 // mean of the centre's variance and of its square
	var lay triangle
	for _, n := range known {
		c := n.cov(b, proj, &lay)
		for p := range 3 {
			for q := range 3 {
				e.cov[p][q] += n.weight * c[p][q]
			}
		}
		t := c[0][0] + c[1][1]
		v += n.weight * t
		v2 += n.weight * t * t
	}
	v2 *= 1 + 2/max(g.free-4, 1) // σ² is not known either
	e.dof = 4 + 2/max(v2/(v*v)-1, 1e-9)
	return e, true
}

// knownNoise is one of the grid's noises, its kernel laid out round a hole.
type knownNoise struct {
	weight, sigma2, q float64
	turns             turns
}

// cov is the covariance that projections of the bins have under n; lay is room
// to work in.
func (n *knownNoise) cov(b *binned, proj [][3]float64, lay *triangle) (c [3][3]float64) {
	add := func(f float64, u, v [3]float64) {
		for p := range 3 {
			for q := range 3 {
				c[p][q] += f * n.sigma2 * u[p] * v[q]
			}
		}
	}
	for i, u := range proj {
		add(1/b.n[i], u, u)
	}
	if n.q == 0 {
		return c
	}
	lay.lay(b, &n.turns)
	for i, u := range proj {
		var row [3]float64 // the half up to i, its diagonal counted half
		for j := range i + 1 {
			f := lay[i][j]
			if i == j {
				f /= 2
			}
			for q := range 3 {
				row[q] += f * proj[j][q]
			}
		}
		add(n.q, u, row)
		add(n.q, row, u)
	}
	return c
}
