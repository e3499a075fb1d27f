package bolt

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Least squares weigh the bins of an arc and the rows of a wall alike, generalised least
// squares by the covariance V̄ of the noise that the grid makes likely:
//
//	β = (XᵀV̄⁻¹X)⁻¹ XᵀV̄⁻¹y      Cov(β) = (XᵀV̄⁻¹X)⁻¹
//
// (Aitken, Proc. Royal Society of Edinburgh 55 (1935) 42-48; from memory). In noise that
// hangs together what lies at the ends counts for more, since less lies beside it.

// refined is what generalised least squares make of a series, and how far it lies from
// what least squares make of the same cells.
type refined struct {
	beta     [3]float64
	cov      [3][3]float64
	apart    float64 // dᵀC⁻¹d of the difference d, C the covariance of least squares
	mean     float64 // of apart, if V̄ is right
	variance float64
	lean     [2][2]float64 // see lean
}

// unreal is how much of what the variance gains over that of least squares is none where
// the weights are learned from the residuals that they weigh, not from the face: by
// simulation, see TestStudyCoverage.
const unreal = 0.2

// refine fits the cells of s; ok is false where their covariance is too near to singular.
func (g arcNoise) refine(s arcSeries) (r refined, ok bool) {
	cells := s.parts()
	v := g.covariance(s, cells)
	x, wx := mat.NewDense(len(cells), 3, nil), mat.NewDense(len(cells), 3, nil)
	y := mat.NewVecDense(len(cells), nil)
	for i, c := range cells {
		sin, cos := math.Sincos(c.theta)
		x.SetRow(i, []float64{cos, sin, 1})
		y.SetVec(i, c.y)
		for p := range 3 {
			wx.Set(i, p, x.At(i, p)/v.At(i, i))
		}
	}
	var chol mat.Cholesky
	var vx mat.Dense
	if !chol.Factorize(v) || chol.SolveTo(&vx, x) != nil {
		return r, false
	}
	best, ok1 := projection(x, &vx)
	plain, ok2 := projection(x, wx)
	if !ok1 || !ok2 {
		return r, false
	}
	r.cov = under3(v, best)
	of := under3(v, plain)
	inv, ok := invert3(of)
	if !ok {
		return r, false
	}
	var d [3]float64
	for p := range 3 {
		r.beta[p] = mat.Dot(best.ColView(p), y)
		d[p] = r.beta[p] - mat.Dot(plain.ColView(p), y)
	}
	r.apart = dot3(d, [3]float64{dot3(inv[0], d), dot3(inv[1], d), dot3(inv[2], d)})
	var part [3][3]float64 // C⁻¹ Cov(d)
	for p := range 3 {
		for q := range 3 {
			for k := range 3 {
				part[p][q] += inv[p][k] * (of[k][q] - r.cov[k][q])
			}
		}
	}
	for p := range 3 {
		r.mean += part[p][p]
		for q := range 3 {
			r.variance += 2 * part[p][q] * part[q][p]
			r.cov[p][q] += unreal * (1 - g.known) * (of[p][q] - r.cov[p][q])
		}
	}
	r.lean = lean(s, cells, v)
	return r, true
}

// fewestRows of a wall are enough to say how its axis leans.
const fewestRows = 3

// lean is the covariance, rad², of how the axis of a wall leans toward x and y, fitted by
// least squares to cells of the covariance V: (XᵀWX)⁻¹XᵀWVWX(XᵀWX)⁻¹, W = 1/diag V. Zero
// where too few rows tell it.
func lean(s arcSeries, cells []cell, v *mat.SymDense) (cov [2][2]float64) {
	if s.rows < fewestRows {
		return cov
	}
	x, wx := mat.NewDense(len(cells), 5, nil), mat.NewDense(len(cells), 5, nil)
	for i, c := range cells {
		sin, cos := math.Sincos(c.theta)
		up := ((float64(c.row)+0.5)/float64(s.rows) - 0.5) * s.depth
		x.SetRow(i, []float64{cos, sin, 1, up * cos, up * sin})
		for p := range 5 {
			wx.Set(i, p, x.At(i, p)/v.At(i, i))
		}
	}
	b, ok := projection(x, wx)
	if !ok {
		return cov
	}
	of := under(v, b)
	for p := range cov {
		copy(cov[p][:], of.RawRowView(3 + p)[3:])
	}
	return cov
}

// covariance returns V̄ of the cells of s.
func (g arcNoise) covariance(s arcSeries, cells []cell) *mat.SymDense {
	rows := max(s.rows, 1)
	white, tables := g.mean(s.radius, s.depth/float64(rows), rows)
	v := mat.NewSymDense(len(cells), nil)
	for i, c := range cells {
		for j, o := range cells[:i] {
			from, w := part(math.Abs(wrapHalf(c.theta - o.theta)))
			t := tables[max(c.row-o.row, o.row-c.row)][from:][:4]
			v.SetSym(i, j, w[0]*t[0]+w[1]*t[1]+w[2]*t[2]+w[3]*t[3])
		}
		v.SetSym(i, i, white/c.n+tables[0][0])
	}
	return v
}

// projection returns B = WX (XᵀWX)⁻¹, of which Bᵀy is the fit of y, from X and WX.
func projection(x, wx *mat.Dense) (*mat.Dense, bool) {
	var a, inv, b mat.Dense
	a.Mul(x.T(), wx)
	if inv.Inverse(&a) != nil {
		return nil, false
	}
	b.Mul(wx, &inv)
	return &b, true
}

// under returns BᵀVB.
func under(v *mat.SymDense, b *mat.Dense) *mat.Dense {
	var vb, bvb mat.Dense
	vb.Mul(v, b)
	bvb.Mul(b.T(), &vb)
	return &bvb
}

// under3 is under of three terms.
func under3(v *mat.SymDense, b *mat.Dense) (c [3][3]float64) {
	of := under(v, b)
	for p := range c {
		copy(c[p][:], of.RawRowView(p))
	}
	return c
}

// mean returns V̄: the white variance of a point, and of rows 0, 1, ... apart the
// covariance of two cells, of the height given, by the angle between them.
func (g arcNoise) mean(radius, height float64, rows int) (white float64, tables []turns) {
	tables = make([]turns, rows)
	slow := make([]float64, len(g.kernel)) // variance that hangs together
	var all float64
	for k, weight := range g.weight {
		white += weight * g.sigma2[k]
		v := weight * g.sigma2[k] * g.q[k]
		slow[g.shape[k]] += v
		all += v
	}
	for shape, v := range slow {
		if v <= 1e-5*all {
			continue
		}
		for lag, t := range g.kernel[shape].layRows(radius, height, rows, arcBins) {
			for i, c := range t {
				tables[lag][i] += v * c
			}
		}
	}
	return white, tables
}
