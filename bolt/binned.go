package bolt

import "math"

// binned is a series in the bins that noise is learned on, with what its
// likelihoods need.
type binned struct {
	arcSeries
	x [][4]float64 // cos θ, sin θ, 1, y of each bin
	q [][3]float64 // orthonormal columns that span the first three of x
	// Where the angle between bins i > j lies in turns.
	from [mostBins][mostBins]int
	part [mostBins][mostBins][4]float64
}

func (s arcSeries) binned() *binned {
	b := &binned{arcSeries: s.coarse()}
	b.x = make([][4]float64, len(b.y))
	for i, t := range b.theta {
		sin, cos := math.Sincos(t)
		b.x[i] = [4]float64{cos, sin, 1, b.y[i]}
		for j, o := range b.theta[:i] {
			b.from[i][j], b.part[i][j] = part(math.Abs(wrapHalf(t - o)))
		}
	}
	b.span()
	return b
}

// span sets q, by Gram and Schmidt's steps, twice.
func (b *binned) span() {
	b.q = make([][3]float64, len(b.x))
	for i, x := range b.x {
		b.q[i] = [3]float64{x[0], x[1], x[2]}
	}
	for p := range 3 {
		for range 2 {
			for o := range p {
				var d float64
				for _, q := range b.q {
					d += q[p] * q[o]
				}
				for i := range b.q {
					b.q[i][p] -= d * b.q[i][o]
				}
			}
		}
		var d float64
		for _, q := range b.q {
			d += q[p] * q[p]
		}
		for i := range b.q {
			b.q[i][p] /= math.Sqrt(max(d, 1e-300))
		}
	}
}

// hidden is the variance of kernel k that a circle takes out, summed over the
// bins.
func (b *binned) hidden(k *triangle) float64 {
	var sum float64
	for i, u := range b.q {
		for j, v := range b.q[:i] {
			sum += 2 * k[i][j] * dot3(u, v)
		}
		sum += k[i][i] * dot3(u, u)
	}
	return sum
}

// triangle is a lower triangular matrix over a series' bins.
type triangle [mostBins][mostBins]float64

// lay sets t to the kernel's covariances of the bins.
func (t *triangle) lay(b *binned, c *turns) {
	for i := range b.x {
		for j := range i {
			v, w := c[b.from[i][j]:][:4], &b.part[i][j]
			t[i][j] = w[0]*v[0] + w[1]*v[1] + w[2]*v[2] + w[3]*v[3]
		}
		t[i][i] = c[0]
	}
}

// factor sets t to the Cholesky factor of diag(1/n) + q k and returns ln of its
// determinant. The diagonal holds the reciprocals of the factor's.
func (t *triangle) factor(k *triangle, q float64, n []float64) float64 {
	det := 1.0
	var logDet float64
	for i := range n {
		ri := &t[i]
		for j := range i {
			rj := &t[j]
			v := q * k[i][j]
			for p := range j {
				v -= ri[p] * rj[p]
			}
			ri[j] = v * rj[j]
		}
		v := 1/n[i] + q*k[i][i]
		for p := range i {
			v -= ri[p] * ri[p]
		}
		v = max(v, 1e-12*q*k[i][i], 1e-300)
		if det *= v; det < 1e-200 || det > 1e200 {
			logDet += math.Log(det)
			det = 1
		}
		ri[i] = 1 / math.Sqrt(v)
	}
	return logDet + math.Log(det)
}

// normal returns XᵀV⁻¹X, XᵀV⁻¹y and yᵀV⁻¹y of the factored V.
func (t *triangle) normal(x [][4]float64) (a [3][3]float64, b [3]float64, yy float64) {
	var z [mostBins][4]float64 // L⁻¹ [X y]
	for i, r := range x {
		row := &t[i]
		for k := range i {
			f, zk := row[k], &z[k]
			r[0] -= f * zk[0]
			r[1] -= f * zk[1]
			r[2] -= f * zk[2]
			r[3] -= f * zk[3]
		}
		for q := range 4 {
			r[q] *= row[i]
		}
		z[i] = r
		for p := range 3 {
			for q := range p + 1 {
				a[p][q] += r[p] * r[q]
			}
			b[p] += r[p] * r[3]
		}
		yy += r[3] * r[3]
	}
	a[0][1], a[0][2], a[1][2] = a[1][0], a[2][0], a[2][1]
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
