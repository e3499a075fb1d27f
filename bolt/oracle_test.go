package bolt

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// oracle returns the covariance of (x, y, r) of the best linear unbiased
// estimate of one who knows the noise, and of least squares, (XᵀX)⁻¹XᵀVX(XᵀX)⁻¹.
func oracle(t testing.TB, spec wallSpec) (best, plain [3][3]float64) {
	quiet := spec
	quiet.Sigma = 0
	w, err := newNoisyWall(quiet)
	require.NoError(t, err)
	pts := w.Draw(rand.New(rand.NewPCG(1, 1)))
	n := len(pts)
	v := mat.NewSymDense(n, nil)
	x := mat.NewDense(n, 3, nil)
	for i, p := range pts {
		for j := range i + 1 {
			k := spec.Kernel.At(p.Distance(pts[j]))
			if i == j {
				k += 1e-9
			}
			v.SetSym(i, j, spec.Sigma*spec.Sigma*k)
		}
		x.SetRow(i, []float64{p.X / spec.Radius, p.Y / spec.Radius, 1})
	}
	var ch mat.Cholesky
	require.True(t, ch.Factorize(v))
	var vx, a, inv mat.Dense
	require.NoError(t, ch.SolveTo(&vx, x))
	a.Mul(x.T(), &vx)
	require.NoError(t, inv.Inverse(&a))
	of := ofLeastSquares(t, x, v)
	for i := range 3 {
		for j := range 3 {
			best[i][j], plain[i][j] = inv.At(i, j), of.At(i, j)
		}
	}
	return best, plain
}

// ofLeastSquares is the covariance of the terms of y = X b in noise of covariance V,
// (XᵀX)⁻¹XᵀVX(XᵀX)⁻¹.
func ofLeastSquares(t testing.TB, x *mat.Dense, v *mat.SymDense) *mat.Dense {
	var xx, half, xvx, of mat.Dense
	xx.Mul(x.T(), x)
	require.NoError(t, xx.Inverse(&xx))
	half.Mul(v, x)
	xvx.Mul(x.T(), &half)
	of.Product(&xx, &xvx, &xx)
	return &of
}
