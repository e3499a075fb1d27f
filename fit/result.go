package fit

import "math"

// matrix is large enough for any shape here.
type matrix = [maxParams][maxParams]float64

// finish summarises the residuals at the accepted state, of which s are the
// sums, in millimetres; and returns the covariance of the local parameters, in
// scaled units, and the condition number of the Jacobian. need is the number of
// parameters without those held. ok is false where J'J is singular.
func finish(m model, c *cloud, s *solved, need int) (sum ResidualStats, cov matrix, cond float64, ok bool) {
	r := spread{n: c.n, min: s.min, max: s.max, ss: s.f, wss: s.f}
	if c.sw != nil || m.perPoint() > 1 {
		r = summarise(m, c)
	}
	per := m.perPoint()
	sum = r.summary(0, c.scale)
	sum.Sigma = 0
	var variance float64
	if free := c.n*per - need + s.held.n; free > 0 {
		variance = r.wss / float64(free)
		sum.Sigma = math.Sqrt(variance) * c.scale
	}
	p := m.params()
	cov, cond, ok = s.inverse(p)
	s.held.projectBoth(&cov)
	for i := range p {
		for j := range p {
			cov[i][j] *= variance
		}
	}
	return sum, cov, cond, ok
}

// summarise looks at the residuals of weighted points, whose rows are weighed
// too, and of shapes with two residuals a point.
func summarise(m model, c *cloud) spread {
	var zero [maxParams]float64
	m.try(&zero)
	r := spread{min: math.Inf(1), max: math.Inf(-1)}
	var b block
	for lo := 0; lo < len(c.x); lo += chunk {
		part := spread{min: r.min, max: r.max}
		spreadRange(m, c, lo, min(lo+chunk, len(c.x)), &b, &part)
		r.n += part.n
		r.min, r.max = part.min, part.max
		r.ss += part.ss
		r.wss += part.wss
	}
	return r
}

// summary makes a ResidualStats of residuals in scaled units; params of them are
// spent on parameters.
func (s *spread) summary(params int, scale float64) ResidualStats {
	if s.n == 0 {
		return ResidualStats{}
	}
	out := ResidualStats{N: s.n, RMS: math.Sqrt(s.ss/float64(s.n)) * scale, Min: s.min * scale, Max: s.max * scale}
	out.FormError = out.Max - out.Min
	if free := s.n - params; free > 0 {
		out.Sigma = math.Sqrt(s.wss/float64(free)) * scale
	}
	return out
}

// turnOver exchanges outside and inside in a summary.
func (s ResidualStats) turnOver() ResidualStats {
	s.Min, s.Max = -s.Max, -s.Min
	return s
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
