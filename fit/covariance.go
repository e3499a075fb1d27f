package fit

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// matrix is large enough for any shape here.
type matrix = [maxParams][maxParams]float64

// statistics summarises the residuals at the accepted state, in millimetres, and
// returns the variance of a residual in scaled units, and the covariance of the local
// parameters and the condition number of the Jacobian there: σ²(J'J)⁻¹ with s the sums
// at that state. ok is false where J'J is singular.
func statistics(m model, c *cloud, s *solved) (stats ResidualStats, cov matrix, cond float64, ok bool) {
	r := spread{n: c.n, min: s.min, max: s.max, ss: s.f, wss: s.f}
	if c.sw != nil || m.perPoint() > 1 {
		r = spreadOf(m, c)
	}
	p := m.params()
	stats = ResidualStats{N: r.n, RMS: math.Sqrt(r.ss/float64(r.n)) * c.scale, Min: r.min * c.scale, Max: r.max * c.scale}
	stats.FormError = stats.Max - stats.Min
	var variance float64
	if free := c.n*m.perPoint() - p + s.held.n; free > 0 {
		variance = r.wss / float64(free)
		stats.Sigma = math.Sqrt(variance) * c.scale
	}
	cov, cond, ok = s.inverse(p)
	before := cov
	s.held.projectBoth(&cov)
	for i := range p {
		for j := range p {
			cov[i][j] *= variance
		}
		dropRounding(&cov, i, variance*before[i][i])
	}
	return stats, cov, cond, ok
}

// spread is what ResidualStats are made of.
type spread struct {
	min, max float64
	ss, wss  float64 // sum of squares, and weighted
	n        int
}

// spreadOf looks at the residuals of weighted points, whose rows are weighed too, and
// of shapes with two residuals a point.
func spreadOf(m model, c *cloud) spread {
	var zero [maxParams]float64
	m.try(&zero)
	s := spread{min: math.Inf(1), max: math.Inf(-1)}
	var b block
	per := m.perPoint()
	_, sided := m.(*round) // a circle in space has an inside and an outside, a line has not
	step := blockRows / per
	for lo := 0; lo < len(c.x); lo += step {
		hi := min(lo+step, len(c.x))
		m.rows(c, lo, hi, &b)
		k := hi - lo
		for i := range k {
			if c.sw != nil && c.sw[lo+i] == 0 {
				continue
			}
			v := b.f[i]
			q := v * v
			if per == 2 {
				q += b.f[k+i] * b.f[k+i]
				if v = math.Sqrt(q); sided && b.f[i] < 0 {
					v = -v
				}
			}
			s.n++
			s.min, s.max = min(s.min, v), max(s.max, v)
			s.ss += q
			if c.sw != nil {
				q *= c.sw[lo+i] * c.sw[lo+i]
			}
			s.wss += q
		}
	}
	return s
}

// inverse returns the inverse of J'J and the condition number of J with its
// columns scaled to one. False where it is singular.
func (s *sums) inverse(p int) (inv matrix, cond float64, ok bool) {
	e := *s
	for c := range p {
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

// propagate returns M C M' for the first p parameters.
func propagate(m, c *matrix, p int) (out matrix) {
	var gross [maxParams]float64
	for i := range p {
		for k := range p {
			var mc float64
			for l := range p {
				mc += m[i][l] * c[l][k]
				gross[i] += math.Abs(m[i][l] * c[l][k] * m[i][k])
			}
			for j := range p {
				out[i][j] += mc * m[j][k]
			}
		}
	}
	for i := range p {
		dropRounding(&out, i, gross[i])
		for j := range i {
			out[i][j] = out[j][i]
		}
	}
	return out
}

// dropRounding makes the covariances of parameter i zero where its variance is no more
// than the rounding of the terms that it is the sum of: the parameter was held.
func dropRounding(cov *matrix, i int, terms float64) {
	if cov[i][i] > heldVariance*terms {
		return
	}
	for j := range cov {
		cov[i][j], cov[j][i] = 0, 0
	}
}

// turnOver exchanges outside and inside.
func (s ResidualStats) turnOver() ResidualStats {
	s.Min, s.Max = -s.Max, -s.Min
	return s
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
	var free []int
	for i := range cov.SymmetricDim() {
		if cov.At(i, i) > 0 {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return 0
	}
	c := mat.NewSymDense(len(free), nil)
	for a, i := range free {
		for b, j := range free[:a+1] {
			c.SetSym(a, b, cov.At(i, j)/math.Sqrt(cov.At(i, i)*cov.At(j, j)))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(c, false) {
		return math.Inf(1)
	}
	v := e.Values(nil)
	if v[0] <= 0 {
		return math.Inf(1)
	}
	return math.Sqrt(v[len(v)-1] / v[0])
}
