package fit

import "math"

// eigen diagonalises the symmetric n×n matrix a (n up to 6) by Jacobi's
// cyclic rotations (Golub & Van Loan, Matrix Computations, algorithm 8.5.3),
// which keep the small eigenvalues' digits. Values ascend; column k of v
// belongs to value k.
func eigen(a *[maxParams][maxParams]float64, n int) (val [maxParams]float64, v [maxParams][maxParams]float64) {
	for i := range n {
		v[i][i] = 1
		for j := range i {
			a[i][j] = a[j][i]
		}
	}
	for range 60 {
		off, diag := 0.0, 0.0
		for i := range n {
			diag += a[i][i] * a[i][i]
			for j := i + 1; j < n; j++ {
				off += a[i][j] * a[i][j]
			}
		}
		if off <= 1e-40*diag || off == 0 {
			break
		}
		for p := range n {
			for q := p + 1; q < n; q++ {
				if a[p][q] == 0 {
					continue
				}
				th := (a[q][q] - a[p][p]) / (2 * a[p][q])
				t := 1 / (math.Abs(th) + math.Sqrt(th*th+1))
				if th < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(t*t+1)
				s := t * c
				for k := range n {
					x, y := a[k][p], a[k][q]
					a[k][p], a[k][q] = c*x-s*y, s*x+c*y
				}
				for k := range n {
					x, y := a[p][k], a[q][k]
					a[p][k], a[q][k] = c*x-s*y, s*x+c*y
				}
				a[p][q], a[q][p] = 0, 0
				for k := range n {
					x, y := v[k][p], v[k][q]
					v[k][p], v[k][q] = c*x-s*y, s*x+c*y
				}
			}
		}
	}
	for i := range n {
		val[i] = a[i][i]
	}
	for i := range n { // selection sort
		m := i
		for j := i + 1; j < n; j++ {
			if val[j] < val[m] {
				m = j
			}
		}
		if m != i {
			val[i], val[m] = val[m], val[i]
			for k := range n {
				v[k][i], v[k][m] = v[k][m], v[k][i]
			}
		}
	}
	return val, v
}
