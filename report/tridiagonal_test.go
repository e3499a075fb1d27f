package report

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// A restricted likelihood by turns against the same by whole matrices: with
// the projection M = 1 - X(XᵀX)⁻¹Xᵀ and P = V⁻¹ - V⁻¹X(XᵀV⁻¹X)⁻¹XᵀV⁻¹ of V = 1 + f S,
// log |V| + log |XᵀV⁻¹X| - log |XᵀX| and yᵀPy (Harville, J. Am. Stat. Assoc. 72 (1977)
// 320-338, section 5).
func TestRestrictedLikelihood(t *testing.T) {
	const n, p = 23, 4
	rng := rand.New(rand.NewPCG(51, 1))
	x, root := mat.NewDense(n, p, nil), mat.NewDense(n, n, nil)
	y := make([]float64, n)
	for i := range n {
		y[i] = rng.NormFloat64()
		for j := range p {
			x.Set(i, j, rng.NormFloat64())
		}
		for j := range n {
			root.Set(i, j, rng.NormFloat64())
		}
	}
	var s mat.Dense
	s.Mul(root, root.T())

	q := onto(mat.DenseCopyOf(x))
	e := append([]float64(nil), y...)
	q.vector(e)
	turned := mat.DenseCopyOf(&s)
	q.both(turned)
	line := straighten(turned, p, e)
	require.Len(t, line.diagonal, n-p)
	for _, f := range []float64{0, 0.3, 40} {
		v := mat.NewSymDense(n, nil)
		for i := range n {
			for j := range i + 1 {
				v.SetSym(i, j, f*s.At(i, j))
			}
			v.SetSym(i, i, v.At(i, i)+1)
		}
		var chol, inner, plain mat.Cholesky
		require.True(t, chol.Factorize(v))
		var vx, xvx, b mat.Dense
		require.NoError(t, chol.SolveTo(&vx, x))
		xvx.Mul(x.T(), &vx)
		var xx mat.Dense
		xx.Mul(x.T(), x)
		symmetric := func(d *mat.Dense) *mat.SymDense {
			out := mat.NewSymDense(p, nil)
			for i := range p {
				for j := range i + 1 {
					out.SetSym(i, j, d.At(i, j))
				}
			}
			return out
		}
		require.True(t, inner.Factorize(symmetric(&xvx)))
		require.True(t, plain.Factorize(symmetric(&xx)))
		logdet, quad := line.of(f)
		assert.InDelta(t, chol.LogDet()+inner.LogDet()-plain.LogDet(), logdet, 1e-9, "f %g", f)

		// yᵀPy = (y - X b)ᵀ V⁻¹ (y - X b) for the generalised least squares b.
		var vy mat.VecDense
		require.NoError(t, chol.SolveVecTo(&vy, mat.NewVecDense(n, y)))
		var xvy mat.Dense
		xvy.Mul(x.T(), &vy)
		require.NoError(t, inner.SolveTo(&b, &xvy))
		r := mat.NewVecDense(n, nil)
		for i := range n {
			v := y[i]
			for k := range p {
				v -= x.At(i, k) * b.At(k, 0)
			}
			r.SetVec(i, v)
		}
		var vr mat.VecDense
		require.NoError(t, chol.SolveVecTo(&vr, r))
		assert.InDelta(t, mat.Dot(r, &vr), quad, 1e-9, "f %g", f)
	}
}
