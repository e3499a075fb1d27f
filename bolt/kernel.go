package bolt

import "math"

// kernel is a shape of correlation by distance: exponential of a length, mm, or
// that of waves.
type kernel struct {
	length float64
	waves  waves
}

// at returns the correlation at a distance across, mm, of rows depth long.
func (k kernel) at(across, depth float64) float64 {
	if k.length > 0 {
		return math.Exp(-across / k.length)
	}
	return k.waves.at(across, depth)
}

// chordSteps is the number of steps in which a kernel is laid out over the
// circle's diameter.
const chordSteps = 96

// v returns V_ij.
func (s arcSeries) v(i, j int, k kernel, q float64) float64 {
	var v float64
	if q > 0 {
		chord := 2 * s.radius * math.Abs(math.Sin((s.theta[i]-s.theta[j])/2))
		v = q * k.at(chord, s.depth)
	}
	if i == j {
		v += 1 / s.n[i]
	}
	return v
}

// cholesky of V.
type cholesky struct {
	l      [][]float64
	logDet float64
}

// factor returns V's Cholesky factor.
func (s arcSeries) factor(k kernel, q float64) cholesky {
	m := len(s.n)
	c := cholesky{l: make([][]float64, m)}
	for i := range m {
		c.l[i] = make([]float64, i+1)
		for j := range i + 1 {
			v := s.v(i, j, k, q)
			for p := range j {
				v -= c.l[i][p] * c.l[j][p]
			}
			if i == j {
				c.l[i][i] = math.Sqrt(v)
				c.logDet += math.Log(v)
			} else {
				c.l[i][j] = v / c.l[j][j]
			}
		}
	}
	return c
}

// normal returns XᵀV⁻¹X, XᵀV⁻¹y and yᵀV⁻¹y.
func (c cholesky) normal(s arcSeries) (a [3][3]float64, b [3]float64, yy float64) {
	m := len(s.y)
	z := make([][4]float64, m) // L⁻¹ [X y]
	for i := range m {
		sin, cos := math.Sincos(s.theta[i])
		r := [4]float64{cos, sin, 1, s.y[i]}
		for k := range i {
			for q := range 4 {
				r[q] -= c.l[i][k] * z[k][q]
			}
		}
		for q := range 4 {
			r[q] /= c.l[i][i]
		}
		z[i] = r
		for p := range 3 {
			for q := range 3 {
				a[p][q] += r[p] * r[q]
			}
			b[p] += r[p] * r[3]
		}
		yy += r[3] * r[3]
	}
	return a, b, yy
}

// solveSPD solves a x = b and returns a's inverse too.
func solveSPD(a [3][3]float64, b [3]float64) (x [3]float64, inv [3][3]float64, ok bool) {
	inv, ok = invert3(a)
	if !ok {
		return x, inv, false
	}
	for i := range 3 {
		x[i] = dot3(inv[i], b)
	}
	return x, inv, true
}

func dot3(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
