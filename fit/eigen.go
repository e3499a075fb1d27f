package fit

import "math"

// eigen diagonalises the symmetric n×n matrix a (n up to 6) by Jacobi's
// cyclic rotations (Golub & Van Loan, Matrix Computations, algorithm 8.5.3),
// which keep the small eigenvalues' digits. Values ascend; column k of v
// belongs to value k.
func eigen(a *matrix, n int) (val [maxParams]float64, v matrix) {
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

// leastEigen returns the least eigenvalue of the symmetric positive
// semidefinite n×n matrix a (upper part), near enough to rank: the Rayleigh
// quotient after a few steps of inverse iteration (Golub & Van Loan, section
// 8.2.2).
func leastEigen(a *matrix, n int) float64 {
	var l matrix
	var tr float64
	for i := range n {
		tr += a[i][i]
	}
	for i := range n {
		for j := 0; j <= i; j++ {
			v := a[j][i]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(max(v, 1e-17*tr))
			} else {
				l[i][j] = v / l[j][j]
			}
		}
	}
	x := [maxParams]float64{1, -0.6, 0.4, 0.7, -0.3}
	least := 0.0
	for range 4 {
		y := x
		for i := range n {
			for k := range i {
				y[i] -= l[i][k] * y[k]
			}
			y[i] /= l[i][i]
		}
		for i := n - 1; i >= 0; i-- {
			for k := i + 1; k < n; k++ {
				y[i] -= l[k][i] * y[k]
			}
			y[i] /= l[i][i]
		}
		var xy, yy float64
		for i := range n {
			xy += x[i] * y[i]
			yy += y[i] * y[i]
		}
		// With y = A⁻¹x the quotient y'Ay/y'y is x'y/y'y.
		least = xy / yy
		s := 1 / math.Sqrt(yy)
		for i := range n {
			x[i] = y[i] * s
		}
	}
	return least
}
