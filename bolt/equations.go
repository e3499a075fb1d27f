package bolt

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

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

// invert3 inverts a symmetric 3×3 matrix.
func invert3(m [3][3]float64) (inv [3][3]float64, ok bool) {
	c00 := m[1][1]*m[2][2] - m[1][2]*m[2][1]
	c01 := m[1][2]*m[2][0] - m[1][0]*m[2][2]
	c02 := m[1][0]*m[2][1] - m[1][1]*m[2][0]
	det := m[0][0]*c00 + m[0][1]*c01 + m[0][2]*c02
	scale := m[0][0] * m[1][1] * m[2][2]
	if !(math.Abs(det) > 1e-14*math.Abs(scale)) {
		return inv, false
	}
	inv[0] = [3]float64{c00 / det, (m[0][2]*m[2][1] - m[0][1]*m[2][2]) / det, (m[0][1]*m[1][2] - m[0][2]*m[1][1]) / det}
	inv[1] = [3]float64{c01 / det, (m[0][0]*m[2][2] - m[0][2]*m[2][0]) / det, (m[0][2]*m[1][0] - m[0][0]*m[1][2]) / det}
	inv[2] = [3]float64{c02 / det, (m[0][1]*m[2][0] - m[0][0]*m[2][1]) / det, (m[0][0]*m[1][1] - m[0][1]*m[1][0]) / det}
	return inv, true
}
