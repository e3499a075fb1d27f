package mesh

import "math"

// addNormal adds a row f·c = y of a least squares problem, by weight, to the
// normal equations a: their upper triangle and right side.
func addNormal(a *[6][7]float64, f *[6]float64, y, weight float64) {
	for j := range f {
		w := weight * f[j]
		for k := j; k < 6; k++ {
			a[j][k] += w * f[k]
		}
		a[j][6] += w * y
	}
}

// solve6 solves the normal equations, upper triangle and right side in a, by
// Cholesky's method. ok is false where they are singular.
func solve6(a *[6][7]float64) (c [6]float64, ok bool) {
	var l [6][6]float64
	for i := range 6 {
		for j := 0; j <= i; j++ {
			s := a[j][i]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				if s <= 1e-9*a[i][i] {
					return c, false
				}
				l[i][i] = math.Sqrt(s)
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	for i := range 6 {
		s := a[i][6]
		for k := range i {
			s -= l[i][k] * c[k]
		}
		c[i] = s / l[i][i]
	}
	for i := 5; i >= 0; i-- {
		s := c[i]
		for k := i + 1; k < 6; k++ {
			s -= l[k][i] * c[k]
		}
		c[i] = s / l[i][i]
	}
	return c, true
}
