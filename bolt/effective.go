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
// that the face's own noise has, see waves. σ, q and L by restricted maximum likelihood, which allows for what the fit has
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

// coarse returns the series in bins three times as wide.
func (s arcSeries) coarse() arcSeries {
	const bins = arcBins / 3
	var t, y, n [bins]float64
	for i, w := range s.n {
		b := min(int(s.theta[i]/(2*math.Pi)*bins), bins-1)
		t[b] += w * s.theta[i]
		y[b] += w * s.y[i]
		n[b] += w
	}
	out := arcSeries{radius: s.radius, depth: s.depth}
	for b := range n {
		if n[b] > 0 {
			out.theta = append(out.theta, t[b]/n[b])
			out.y = append(out.y, y[b]/n[b])
			out.n = append(out.n, n[b])
		}
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
		v = q * k.at(chord, s.depth)
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

// at returns the correlation at a distance across, mm, of rows depth long.
func (k kernel) at(across, depth float64) float64 {
	if k.length > 0 {
		return math.Exp(-across / k.length)
	}
	return k.waves.at(across, depth)
}

// chordSteps is the number of steps in which a kernel is laid out over the
// circle's diameter.
const chordSteps = 96

// median returns the middle value of v, the lower of two; 0 of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(v))
	return s[(len(s)-1)/2]
}

func dot3(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
