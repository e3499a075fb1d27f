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
// K is the correlation by distance that the face's own noise has, see waves;
// where there is no face to tell it, exp(-d/L) or exp(-d²/2L²) of unknown L. σ,
// q and L by restricted maximum likelihood, which allows for what the fit has
// taken out of the residuals (Patterson and Thompson, Biometrika 58 (1971)
// 545-554, eq. 9 with the scale profiled out), on a grid of q and L; the grid
// points' likelihoods then weigh the covariances that they give, so that not
// knowing the length widens the uncertainty.

// arcBins is the number of bins round a circle.
const arcBins = 48

// arcSeries is what a circle's residuals look like round it.
type arcSeries struct {
	radius float64
	depth  float64   // of the wall that each bin is the mean of, mm; 0: a rim
	theta  []float64 // mean angle of each bin's points, rad
	y      []float64 // mean residual, outwards, mm
	n      []float64 // points
}

// newArcSeries bins the radial residuals of pts (weights w, nil for ones; zero
// leaves a point out) from the circle.
func newArcSeries(pts [][2]float64, w []float64, x, y, r float64) arcSeries {
	var t, e, n [arcBins]float64
	for i, p := range pts {
		wi := 1.0
		if w != nil {
			wi = w[i]
		}
		if wi == 0 {
			continue
		}
		qx, qy := p[0]-x, p[1]-y
		a := wrap(math.Atan2(qy, qx))
		b := min(int(a/(2*math.Pi)*arcBins), arcBins-1)
		t[b] += wi * a
		e[b] += wi * (math.Hypot(qx, qy) - r)
		n[b] += wi
	}
	s := arcSeries{radius: r}
	for b := range n {
		if n[b] > 0 {
			s.theta = append(s.theta, t[b]/n[b])
			s.y = append(s.y, e[b]/n[b])
			s.n = append(s.n, n[b])
		}
	}
	return s
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
	gridLength = [...]float64{0.1, 0.2, 0.4, 0.8, 1.6, 3.2}
	gridShare  = [...]float64{0.25, 1, 4, 16, 64, 256}
)

// learnNoise weighs the grid by the residuals of features of one kind.
func learnNoise(all []arcSeries, known waves) arcNoise {
	var g arcNoise
	add := func(k kernel, q float64) {
		g.kernel, g.q = append(g.kernel, k), append(g.q, q)
	}
	add(kernel{}, 0)
	var radii, white []float64
	for _, s := range all {
		radii, white = append(radii, s.radius), append(white, s.white())
	}
	kernels := []kernel{{waves: known}}
	if len(known.length) == 0 {
		kernels = nil
		for _, l := range gridLength {
			kernels = append(kernels, kernel{length: l * median(radii)},
				kernel{waves: waves{length: []float64{l * median(radii)}, share: []float64{1}}})
		}
	}
	for _, k := range kernels {
		for _, q := range gridShare {
			add(k, q*median(white))
		}
	}
	logs := make([]float64, len(g.q))
	top := math.Inf(-1)
	for k := range g.q {
		var quad, logDet, dof float64
		for _, s := range all {
			if len(s.y) < 6 {
				continue
			}
			f := s.factor(g.kernel[k], g.q[k])
			a, b, yy := f.normal(s)
			beta, cov, ok := solveSPD(a, b)
			if !ok {
				continue
			}
			quad += yy - dot3(b, beta)
			logDet += f.logDet - math.Log(det3(cov))
			dof += float64(len(s.y) - 3)
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
func (g arcNoise) estimate(s arcSeries) (estimate, bool) {
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
	var mid [3][3]float64
	for k, weight := range g.weight {
		if weight < 1e-4 && k != best {
			continue
		}
		f := weight * g.sigma2[k]
		for i := range m {
			for j := range m {
				v := f * s.v(i, j, g.kernel[k], g.q[k])
				if v == 0 {
					continue
				}
				for p := range 3 {
					for q := range 3 {
						mid[p][q] += v * x[i][p] * x[j][q]
					}
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

// white is the mean over the bins of 1/n.
func (s arcSeries) white() float64 {
	var w float64
	for _, n := range s.n {
		w += 1 / n / float64(len(s.n))
	}
	return w
}

// v returns V_ij.
func (s arcSeries) v(i, j int, k kernel, q float64) float64 {
	var v float64
	if q > 0 {
		chord := 2 * s.radius * math.Abs(math.Sin((s.theta[i]-s.theta[j])/2))
		if k.length > 0 {
			v = q * math.Exp(-chord/k.length)
		} else {
			v = q * k.waves.at(chord, s.depth)
		}
	}
	if i == j {
		v += 1 / s.n[i]
	}
	return v
}

// cholesky of V.
type cholesky struct {
	l      [][]float64
	logDet float64
}

// factor returns V's Cholesky factor.
func (s arcSeries) factor(k kernel, q float64) cholesky {
	m := len(s.n)
	c := cholesky{l: make([][]float64, m)}
	for i := range m {
		c.l[i] = make([]float64, i+1)
		for j := range i + 1 {
			v := s.v(i, j, k, q)
			for p := range j {
				v -= c.l[i][p] * c.l[j][p]
			}
			if i == j {
				c.l[i][i] = math.Sqrt(v)
				c.logDet += math.Log(v)
			} else {
				c.l[i][j] = v / c.l[j][j]
			}
		}
	}
	return c
}

// normal returns XᵀV⁻¹X, XᵀV⁻¹y and yᵀV⁻¹y.
func (c cholesky) normal(s arcSeries) (a [3][3]float64, b [3]float64, yy float64) {
	m := len(s.y)
	z := make([][4]float64, m) // L⁻¹ [X y]
	for i := range m {
		sin, cos := math.Sincos(s.theta[i])
		r := [4]float64{cos, sin, 1, s.y[i]}
		for k := range i {
			for q := range 4 {
				r[q] -= c.l[i][k] * z[k][q]
			}
		}
		for q := range 4 {
			r[q] /= c.l[i][i]
		}
		z[i] = r
		for p := range 3 {
			for q := range 3 {
				a[p][q] += r[p] * r[q]
			}
			b[p] += r[p] * r[3]
		}
		yy += r[3] * r[3]
	}
	return a, b, yy
}

// solveSPD solves a x = b and returns a's inverse too.
func solveSPD(a [3][3]float64, b [3]float64) (x [3]float64, inv [3][3]float64, ok bool) {
	inv, ok = invert3(a)
	if !ok {
		return x, inv, false
	}
	for i := range 3 {
		x[i] = dot3(inv[i], b)
	}
	return x, inv, true
}

// kernel is a shape of correlation by distance: exponential of a length, mm, or
// that of waves.
type kernel struct {
	length float64
	waves  waves
}

// median returns the middle value of v, the lower of two; 0 of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(v))
	return s[(len(s)-1)/2]
}

func dot3(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func det3(m [3][3]float64) float64 {
	return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) -
		m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) +
		m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
}
