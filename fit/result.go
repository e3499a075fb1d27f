package fit

import "math"

// matrix is large enough for any shape here.
type matrix = [maxParams][maxParams]float64

// finish summarises the residuals at the accepted state, in millimetres, and
// returns the covariance of the local parameters, in scaled units, and the
// condition number of the Jacobian. ok is false where J'J is singular.
func finish(m model, c *cloud, s *solved, need int) (sum Summary, cov matrix, cond float64, ok bool) {
	var zero [maxParams]float64
	m.try(&zero)
	r := spread{min: math.Inf(1), max: math.Inf(-1)}
	var b block
	for lo := 0; lo < len(c.x); lo += chunk {
		part := spread{min: r.min, max: r.max}
		spreadRange(m, c, lo, min(lo+chunk, len(c.x)), &b, &part)
		r.min, r.max = part.min, part.max
		r.ss += part.ss
		r.wss += part.wss
	}
	sum = Summary{N: c.n, RMS: math.Sqrt(r.ss/float64(c.n)) * c.scale, Min: r.min * c.scale, Max: r.max * c.scale}
	sum.FormError = sum.Max - sum.Min
	p := m.params()
	var variance float64
	if free := c.n*m.perPoint() - need; free > 0 {
		variance = r.wss / float64(free)
		sum.Sigma = math.Sqrt(variance) * c.scale
	}
	cov, cond, ok = s.inverse(p)
	for i := range p {
		for j := range p {
			cov[i][j] *= variance
		}
	}
	return sum, cov, cond, ok
}

// propagate returns M C M' for the first rows of M and the first p parameters.
func propagate(m *matrix, c *matrix, rows, p int) (out matrix) {
	var mc matrix
	for i := range rows {
		for j := range p {
			var v float64
			for k := range p {
				v += m[i][k] * c[k][j]
			}
			mc[i][j] = v
		}
	}
	for i := range rows {
		for j := range i + 1 {
			var v float64
			for k := range p {
				v += mc[i][k] * m[j][k]
			}
			out[i][j], out[j][i] = v, v
		}
	}
	return out
}

// singular is the condition number from which a fit is called undetermined:
// the digits of the answer are then fewer than the input's rounding leaves.
const singular = 1e9
