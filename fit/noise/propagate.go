package noise

import "gonum.org/v1/gonum/mat"

// Fit is a least-squares fit to the residuals of a patch.
type Fit struct {
	Beta []float64
	Cov  *mat.SymDense
	// Inverse is (XᵀWX)⁻¹ of the weights W.
	Inverse *mat.Dense
	// DOF are the degrees of freedom of Cov.
	DOF float64
}

// Fit fits the terms, a row a cell, to the first piece of p by least squares weighted by
// W, the inverse of the diagonal of the mean covariance V:
//
//	β = (XᵀWX)⁻¹ XᵀWy = Bᵀy      Cov(β) = Bᵀ V B = Σ w_k Bᵀ V_k B
//
// How far the V_k of the mixture disagree tells how well the noise is known. As variances
// go by an inverse gamma distribution with ν degrees of freedom, whose squared coefficient
// of variation is 2/(ν-4), β has the distribution of Student with ν. ok is false where the
// cells do not determine β.
func (m *Model) Fit(p *Patch, terms [][]float64) (f Fit, ok bool) {
	n, t := len(terms), 0
	if n > 0 {
		t = len(terms[0])
	}
	if n < t || !(m.Nugget > 0) {
		return f, false
	}
	x, wx := mat.NewDense(n, t, nil), mat.NewDense(n, t, nil)
	slow := m.Total() / m.Nugget
	for i, row := range terms {
		for j, v := range row {
			x.Set(i, j, v)
			wx.Set(i, j, v/(1/p.N[i]+slow))
		}
	}
	var a, b mat.Dense
	f.Inverse = &mat.Dense{}
	a.Mul(x.T(), wx)
	if f.Inverse.Inverse(&a) != nil {
		return f, false
	}
	b.Mul(wx, f.Inverse)
	var beta mat.VecDense
	beta.MulVec(b.T(), mat.NewVecDense(n, p.Y[0]))
	f.Beta = beta.RawVector().Data
	// Bᵀ K B of each length, and last of the white part.
	parts := make([]*mat.SymDense, len(m.Length)+1)
	total := m.Total()
	k := mat.NewSymDense(n, nil)
	for l, length := range m.Length {
		if m.Variance[l] > negligible*total {
			p.lay(k, length)
			parts[l] = under(k, &b)
		}
	}
	white := mat.NewSymDense(n, nil)
	for i, n := range p.N {
		white.SetSym(i, i, 1/n)
	}
	parts[len(m.Length)] = under(white, &b)
	f.Cov = mat.NewSymDense(t, nil)
	for l, part := range parts {
		v := m.Nugget
		if l < len(m.Length) {
			v = m.Variance[l]
		}
		if part != nil {
			addScaled(f.Cov, v, part)
		}
	}
	f.DOF = m.freedom(parts, f.Cov)
	return f, true
}

// freedom returns the degrees of freedom of the covariance's mean over the mixture.
func (m *Model) freedom(parts []*mat.SymDense, mean *mat.SymDense) float64 {
	t := min(mean.SymmetricDim(), 2)
	by := make([]float64, len(parts)) // the trace of each part
	var all float64
	for l, part := range parts {
		for i := range t {
			if part != nil {
				by[l] += part.At(i, i)
			}
		}
	}
	for i := range t {
		all += mean.At(i, i)
	}
	var square float64
	for _, p := range m.points {
		if p.weight < negligible {
			continue
		}
		v := by[len(by)-1]
		for l, c := range p.kernel {
			v += p.q * c * by[l]
		}
		v *= p.sigma2 / all
		square += p.weight * v * v
	}
	square *= 1 + 2/max(m.free-4, 1) // σ² is not known either
	return 4 + 2/max(square-1, 1e-9)
}

// under returns BᵀVB.
func under(v *mat.SymDense, b *mat.Dense) *mat.SymDense {
	var vb, bvb mat.Dense
	vb.Mul(v, b)
	bvb.Mul(b.T(), &vb)
	t, _ := bvb.Dims()
	out := mat.NewSymDense(t, nil)
	for i := range t {
		for j := i; j < t; j++ {
			out.SetSym(i, j, bvb.At(i, j))
		}
	}
	return out
}

// addScaled is s += f a.
func addScaled(s *mat.SymDense, f float64, a *mat.SymDense) {
	for i := range s.SymmetricDim() {
		for j := i; j < s.SymmetricDim(); j++ {
			s.SetSym(i, j, s.At(i, j)+f*a.At(i, j))
		}
	}
}
