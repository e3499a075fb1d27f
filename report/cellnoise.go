package report

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// The cells of a surface share their error as far as the scan's noise reaches
// beyond a cell. How far is read from the products of two cells' residuals, by
// their distance. The fit takes part of a long noise away, and what it takes is
// the more, the longer the noise is: so it is not the products that are held
// against a correlation, but what the same fit would leave of it (the moments of
// Cressie, Statistics for Spatial Data, 1993, section 3.4.3, with the bias of the
// residuals put into the model rather than neglected).

const (
	lagsKept = 7   // distances told apart: 0, then by halves of a cell from 0.75
	lagWidth = 0.5 // cells
)

func lagOf(d float64) int { return int((d-0.75)/lagWidth) + 1 }

// slowTerms are the terms fitted to the cells: their estimate and covariance.
type slowTerms struct {
	b     []float64
	cov   *mat.SymDense
	dof   float64 // how many independent cells the covariance is learnt from
	reach float64 // how far neighbours share the noise, cells, by the share of it that they do
}

// slowLeast fits y = X b by least squares, b = (XᵀX)⁻¹Xᵀy = R⁻¹Qᵀy, and gives
// its covariance R⁻¹ Qᵀ S Q R⁻ᵀ for the covariance S of the cells' means; ok is
// false where no fit is to be had. away is the distance of two cells, in cells.
func slowLeast(x *mat.Dense, y []float64, cells []cell, away func(a, b cell) float64) (slowTerms, bool) {
	n, p := x.Dims()
	var qr mat.QR
	qr.Factorize(x)
	var b mat.VecDense
	if qr.SolveVecTo(&b, false, mat.NewVecDense(n, y)) != nil {
		return slowTerms{}, false // singular, or nearly so
	}
	m := newMoments(x, &qr, y, &b, cells, away)
	s, dof, reach, ok := m.noise()
	if !ok {
		return slowTerms{}, false
	}
	var r, inv, half, full mat.Dense
	qr.RTo(&r)
	if inv.Inverse(r.Slice(0, p, 0, p)) != nil {
		return slowTerms{}, false
	}
	half.Mul(&inv, s)
	full.Mul(&half, inv.T())
	cov := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			cov.SetSym(i, j, full.At(i, j))
		}
	}
	return slowTerms{b.RawVector().Data, cov, dof, reach}, true
}

// moments are the mean products of residuals by distance, and what is needed to
// tell what a noise would make of them.
type moments struct {
	n, p   int
	q      []float64 // n by p, orthonormal
	d      []float64 // distances, n by n, below the diagonal
	own    []float64 // each cell's variance of what it shares with none, relative
	seen   [lagsKept]float64
	pairs  [lagsKept]float64
	within []int8 // lag of each pair, -1: too far
}

func newMoments(x *mat.Dense, qr *mat.QR, y []float64, b *mat.VecDense, cells []cell, away func(a, b cell) float64) *moments {
	n, p := x.Dims()
	m := &moments{n: n, p: p, q: make([]float64, n*p), d: make([]float64, n*n), own: make([]float64, n), within: make([]int8, n*n)}
	var q mat.Dense
	qr.QTo(&q)
	var fitted mat.VecDense
	fitted.MulVec(x, b)
	mean := 0.0
	for _, c := range cells {
		mean += float64(c.n) / float64(n)
	}
	for i := range n {
		for k := range p {
			m.q[i*p+k] = q.At(i, k)
		}
		m.own[i] = mean / float64(cells[i].n)
		ri := y[i] - fitted.AtVec(i)
		for j := range i + 1 {
			d := 0.0
			if j < i {
				d = away(cells[i], cells[j])
			}
			lag := 0
			if j < i {
				lag = max(1, lagOf(d))
			}
			m.d[i*n+j], m.within[i*n+j] = d, -1
			if lag < lagsKept {
				m.within[i*n+j] = int8(lag)
				m.seen[lag] += ri * (y[j] - fitted.AtVec(j))
				m.pairs[lag]++
			}
		}
	}
	for l := range m.seen {
		m.seen[l] /= max(1, m.pairs[l])
	}
	return m
}

// left is what a fit leaves of a noise: the mean products by distance, QᵀSQ, and
// the number of independent cells, tr(T)²/tr(T²) for T = M S M, M = 1 - QQᵀ.
type left struct {
	lag [lagsKept]float64
	in  *mat.Dense
	t   []float64
}

func (m *moments) left(s func(i, j int) float64) left {
	n, p := m.n, m.p
	full := make([]float64, n*n)
	for i := range n {
		for j := range i + 1 {
			v := s(i, j)
			full[i*n+j], full[j*n+i] = v, v
		}
	}
	sm, qm := mat.NewDense(n, n, full), mat.NewDense(n, p, m.q)
	var sq, in, h, tq mat.Dense
	sq.Mul(sm, qm)
	in.Mul(qm.T(), &sq)
	// M S M = S - SQ Qᵀ - Q (SQ)ᵀ + Q (QᵀSQ) Qᵀ = S - H Qᵀ - Q Hᵀ, H = SQ - Q (QᵀSQ)/2
	h.Mul(qm, &in)
	h.Scale(-0.5, &h)
	h.Add(&sq, &h)
	tq.Mul(&h, qm.T())
	out := left{in: &in, t: full}
	raw := tq.RawMatrix().Data
	for i := range n {
		for j := range i + 1 {
			v := full[i*n+j] - raw[i*n+j] - raw[j*n+i]
			full[i*n+j], full[j*n+i] = v, v
			if lag := m.within[i*n+j]; lag >= 0 {
				out.lag[lag] += v
			}
		}
	}
	for l := range out.lag {
		out.lag[l] /= max(1, m.pairs[l])
	}
	return out
}

// noise returns QᵀSQ for the noise that the residuals show, averaged over the
// correlations that explain them, how many independent cells show it, and its
// reach.
func (m *moments) noise() (in *mat.Dense, dof, reach float64, ok bool) {
	if !(m.seen[0] > 0) {
		return nil, 0, 0, false
	}
	own := m.left(func(i, j int) float64 {
		if i == j {
			return m.own[i]
		}
		return 0
	})
	type trial struct {
		in     *mat.Dense
		dof    float64
		reach  float64
		misfit float64
	}
	var tried []trial
	try := func(shared *left, reach float64) {
		a, b := m.match(&own, shared)
		t := trial{in: mat.NewDense(m.p, m.p, nil)}
		var lag [lagsKept]float64
		var trace, square float64
		add := func(f float64, l *left) {
			var s mat.Dense
			s.Scale(f, l.in)
			t.in.Add(t.in, &s)
			for k := range lag {
				lag[k] += f * l.lag[k]
			}
		}
		add(a, &own)
		if shared != nil {
			add(b, shared)
			t.reach = reach * b * mat.Trace(shared.in) / mat.Trace(t.in)
		}
		for i, v := range own.t {
			v *= a
			if shared != nil {
				v += b * shared.t[i]
			}
			square += v * v
			if i%(m.n+1) == 0 {
				trace += v
			}
		}
		t.dof = trace * trace / square
		for k := range lag {
			e := (m.seen[k] - lag[k]) / m.seen[0]
			t.misfit += e * e * m.weight(k)
		}
		tried = append(tried, t)
	}
	try(nil, 0)
	for reach := 0.4; reach < 5; reach *= 1.35 {
		for _, gaussian := range []bool{true, false} {
			l := m.left(func(i, j int) float64 {
				d := m.d[i*m.n+j] / reach
				if gaussian {
					return math.Exp(-d * d / 2)
				}
				return math.Exp(-d / 1.5)
			})
			try(&l, reach)
		}
	}
	// Products of cells that are alike scatter as if there were only dof cells.
	best := slices.MinFunc(tried, func(a, b trial) int { return cmp.Compare(a.misfit, b.misfit) })
	chance := func(t trial) float64 {
		return math.Exp((best.misfit - t.misfit) / 2 * best.dof / float64(m.n))
	}
	in = mat.NewDense(m.p, m.p, nil)
	sum := 0.0
	for _, t := range tried {
		sum += chance(t)
	}
	for _, t := range tried {
		w := chance(t) / sum
		t.in.Scale(w, t.in)
		in.Add(in, t.in)
		dof += w * t.dof
		reach += w * t.reach
	}
	return in, dof, reach, true
}

// weight of a lag: independent residuals of variance v have products that
// scatter by v, and squares that scatter by √2 v.
func (m *moments) weight(lag int) float64 {
	if lag == 0 {
		return m.pairs[0] / 2
	}
	return m.pairs[lag]
}

// match returns how much of own and of shared noise explains the residuals, by
// least squares over the lags, neither below zero.
func (m *moments) match(own, shared *left) (a, b float64) {
	var oo, os, ss, oy, sy float64
	for k := range m.seen {
		w := m.weight(k)
		oo += w * own.lag[k] * own.lag[k]
		oy += w * own.lag[k] * m.seen[k]
		if shared != nil {
			os += w * own.lag[k] * shared.lag[k]
			ss += w * shared.lag[k] * shared.lag[k]
			sy += w * shared.lag[k] * m.seen[k]
		}
	}
	if shared == nil {
		return max(oy/oo, 0), 0
	}
	det := oo*ss - os*os
	a, b = (oy*ss-sy*os)/det, (sy*oo-oy*os)/det
	switch {
	case !(det > 1e-12*oo*ss) || b < 0:
		return max(oy/oo, 0), 0
	case a < 0:
		return 0, max(sy/ss, 0)
	}
	return a, b
}
