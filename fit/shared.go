package fit

import (
	"slices"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
)

// A surface too small for clusters still has its neighbours' shared error. Where
// other surfaces of the same scan show how far that reaches, its covariance
// follows from it:
//
//	Cov(β) = (XᵀX)⁻¹ Xᵀ V X (XᵀX)⁻¹,   V = σ² I + C(|p_i - p_j|)
//
// (least squares under correlated errors: Rao, Linear statistical inference and its
// applications, 2nd ed. 1973, section 4a; from memory).

// Covariance is what the errors of two points share, mm², by the square of their
// distance, mm².
type Covariance func(distance2 float64) float64

// shared adds to white = σ² (XᵀX)⁻¹ what C makes of it: white/σ² Xᵀ C X white/σ²,
// the middle from the pairs of some of the points, as many times as there are
// pairs of all.
func shared(sigma float64, pts []r3.Vector, row rowFunc, c Covariance, white [][]float64) [][]float64 {
	k := len(white)
	out := make([][]float64, k)
	flat := mat.NewDense(k, k, nil)
	for i := range out {
		out[i] = slices.Clone(white[i])
		for j := range out[i] {
			if sigma > 0 {
				flat.Set(i, j, out[i][j]/(sigma*sigma))
			}
		}
	}
	n := min(len(pts), sharedPoints)
	if sigma == 0 || n < 2 {
		return out
	}
	rows, feet := make([][]float64, n), make([]r3.Vector, n)
	for i := range n {
		rows[i] = make([]float64, k)
		_, feet[i] = row(pts[i*len(pts)/n], rows[i])
	}
	mid := mat.NewDense(k, k, nil)
	raw := mid.RawMatrix()
	for a, x := range rows {
		for b, y := range rows[:a] {
			v := c(feet[a].Sub(feet[b]).Norm2())
			if v == 0 {
				continue
			}
			for i := range k {
				for j := range k {
					raw.Data[i*raw.Stride+j] += v * (x[i]*y[j] + y[i]*x[j])
				}
			}
		}
	}
	all := float64(len(pts))
	mid.Scale(all*(all-1)/float64(n*(n-1)), mid)
	var left, add mat.Dense
	left.Mul(flat, mid)
	add.Mul(&left, flat)
	for i := range out {
		for j := range out[i] {
			out[i][j] += add.At(i, j)
		}
	}
	return out
}
