package fit

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/mat"
)

// matrix is large enough for any shape here.
type matrix = [maxParams][maxParams]float64

// statistics summarises the residuals at the accepted state, in millimetres, and
// returns the covariance of the local parameters and the condition number of the
// Jacobian there: σ²(J'J)⁻¹ with s the sums at that state. ok is false where J'J is
// singular.
func statistics(m model, c *cloud, s *solved) (stats ResidualStats, cov matrix, cond float64, ok bool) {
	r, p := spreadOf(m, c), m.params()
	stats, variance := r.stats(c, c.n*m.perPoint()-p+bits.OnesCount(s.held))
	cov, cond, ok = s.inverse(p)
	for i := range cov {
		for j := range cov {
			cov[i][j] *= variance
		}
	}
	return stats, cov, cond, ok
}

// spread is what ResidualStats are made of.
type spread struct {
	min, max float64
	ss, wss  float64 // sum of squares, and weighted
	n        int
}

func newSpread() spread { return spread{min: math.Inf(1), max: math.Inf(-1)} }

// add adds the residual v of point i, and its square, unless it has no weight.
func (s *spread) add(c *cloud, i int, v, square float64) {
	w := c.weight(i)
	if w == 0 {
		return
	}
	s.n++
	s.min, s.max = min(s.min, v), max(s.max, v)
	s.ss += square
	s.wss += w * square
}

// stats returns the statistics in millimetres and the variance of a residual in scaled
// units.
func (s *spread) stats(c *cloud, free int) (out ResidualStats, variance float64) {
	if free > 0 {
		variance = s.wss / float64(free)
	}
	out = ResidualStats{N: s.n, Min: s.min * c.scale, Max: s.max * c.scale}
	out.RMS = math.Sqrt(s.ss/float64(s.n)) * c.scale
	out.FormError = out.Max - out.Min
	out.Sigma = math.Sqrt(variance) * c.scale
	return out, variance
}

// spreadOf looks at the residuals, of which a circle in space has two a point: negative
// inside.
func spreadOf(m model, c *cloud) spread {
	var zero [maxParams]float64
	m.try(&zero)
	s := newSpread()
	b := newBlock(m, c)
	step := blockRows / m.perPoint()
	for lo := 0; lo < len(c.x); lo += step {
		hi := min(lo+step, len(c.x))
		m.rows(c, lo, hi, &b)
		for i := range hi - lo {
			v := b.f[i]
			q := v * v
			if m.perPoint() == 2 {
				q += b.f[hi-lo+i] * b.f[hi-lo+i]
				v = math.Copysign(math.Sqrt(q), v)
			}
			s.add(c, lo+i, v, q)
		}
	}
	return s
}

// inverse returns the inverse of J'J and the condition number of J with its
// columns scaled to one. False where it is singular.
func (s *sums) inverse(p int) (inv matrix, cond float64, ok bool) {
	e := *s
	for c := range p {
		if s.held>>c&1 != 0 {
			continue
		}
		e.g = [maxParams]float64{}
		e.g[c] = -1
		var col [maxParams]float64
		if !normalStep(&e, p, 0, &col) {
			return inv, math.Inf(1), false
		}
		for r := range p {
			inv[r][c] = col[r]
		}
	}
	var tr float64
	for i := range p {
		for j := range i {
			m := (inv[i][j] + inv[j][i]) / 2
			inv[i][j], inv[j][i] = m, m
		}
		tr = max(tr, inv[i][i]*s.a[i][i])
	}
	return inv, math.Sqrt(tr), true
}

// propagate returns M C M'.
func propagate(m, c *matrix) (out matrix) {
	for i := range out {
		for k := range out {
			var mc float64
			for l := range out {
				mc += m[i][l] * c[l][k]
			}
			for j := range out {
				out[i][j] += mc * m[j][k]
			}
		}
	}
	for i := range out {
		for j := range i {
			out[j][i] = out[i][j]
		}
	}
	return out
}

// Expanded returns the expanded uncertainty, 95 %, and its coverage factor, of a scalar
// or of a place in two or three directions with the covariance cov. In several
// directions the worst one is assumed for all, so that the circle or ball holds the truth
// with 95 % or more. It is NaN where cov is none.
func Expanded(cov mat.Symmetric) (u, k float64) {
	n := cov.SymmetricDim()
	var eig mat.EigenSym
	if n < 1 || n > len(cover) || !eig.Factorize(cov, false) {
		return math.NaN(), math.NaN()
	}
	k = cover[n-1]
	return k * math.Sqrt(max(0, eig.Values(nil)[n-1])), k
}

// Condition returns the condition number of a fit with the covariance cov: the ratio of
// the largest to the smallest singular value of its Jacobian with the columns scaled to
// one length, the scaling that comes within a small factor of the least condition number
// (van der Sluis, Condition numbers and equilibration of matrices, Numer. Math. 14
// (1969) 14–23). Of the correlation matrix, the inverse scaled likewise, it is the root
// of the ratio of eigenvalues. It has no unit and does not depend on the noise: 1 is a
// full circle; a thousand is a set of points that determines one combination of the
// parameters a thousand times worse than another. Held parameters, of variance zero, do
// not count. It is 0 where the covariance is not known.
func Condition(cov mat.Symmetric) float64 {
	k := cov.SymmetricDim()
	corr := mat.NewSymDense(k, nil)
	held := 0
	for i := range k {
		for j := range i + 1 {
			if v := cov.At(i, i) * cov.At(j, j); v > 0 {
				corr.SetSym(i, j, cov.At(i, j)/math.Sqrt(v))
			}
		}
		if cov.At(i, i) == 0 {
			held++
		}
	}
	var eig mat.EigenSym
	eig.Factorize(corr, false) // fails on what is not finite, which no fit returns
	v := eig.Values(nil)
	switch {
	case held == k:
		return 0
	case v[held] <= 0:
		return math.Inf(1)
	}
	return math.Sqrt(v[k-1] / v[held])
}
