package bolt

import "gonum.org/v1/gonum/mat"

// equations are the normal equations XᵀWX β = XᵀWe of weighted least squares.
type equations struct {
	a *mat.SymDense
	b *mat.VecDense
}

func newEquations(n int) equations {
	return equations{mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)}
}

// add adds an observation e of weight w with its row of X.
func (q equations) add(w, e float64, row ...float64) {
	for i, x := range row {
		for j := i; j < len(row); j++ {
			q.a.SetSym(i, j, q.a.At(i, j)+w*x*row[j])
		}
		q.b.SetVec(i, q.b.AtVec(i)+w*x*e)
	}
}

// solve returns β and by how much it lowers Σ w e²; ok is false where the
// observations do not determine it.
func (q equations) solve() (beta []float64, gain float64, ok bool) {
	var chol mat.Cholesky
	var x mat.VecDense
	if !chol.Factorize(q.a) || chol.SolveVecTo(&x, q.b) != nil {
		return nil, 0, false
	}
	return x.RawVector().Data, mat.Dot(&x, q.b), true
}
