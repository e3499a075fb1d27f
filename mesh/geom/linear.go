package geom

import (
	"math"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/floats"
)

// Sym3 is a symmetric 3×3 matrix by its upper triangle.
type Sym3 struct{ XX, XY, XZ, YY, YZ, ZZ float64 }

// AddOuter adds weight · v vᵀ.
func (s *Sym3) AddOuter(v r3.Vector, weight float64) {
	x, y, z := weight*v.X, weight*v.Y, weight*v.Z
	s.XX += x * v.X
	s.XY += x * v.Y
	s.XZ += x * v.Z
	s.YY += y * v.Y
	s.YZ += y * v.Z
	s.ZZ += z * v.Z
}

// Mul returns the product with v.
func (s Sym3) Mul(v r3.Vector) r3.Vector {
	return r3.Vector{
		X: s.XX*v.X + s.XY*v.Y + s.XZ*v.Z,
		Y: s.XY*v.X + s.YY*v.Y + s.YZ*v.Z,
		Z: s.XZ*v.X + s.YZ*v.Y + s.ZZ*v.Z,
	}
}

// Smallest returns the smallest eigenvalue of a positive semidefinite s and
// its unit eigenvector. ok is false if that eigenvalue is not single within
// rounding. It takes a third of the time of Eigen.
func (s Sym3) Smallest() (v r3.Vector, lambda float64, ok bool) {
	t := s.XX + s.YY + s.ZZ
	if !(t > 0) || t > math.MaxFloat64 {
		return v, 0, false
	}
	// Scale to a trace of 1. The characteristic polynomial
	//   p(λ) = λ³ - λ² + mλ - q
	// has three roots in [0,1] and is concave below the smallest, so Newton
	// from 0 climbs to it without overshooting.
	a, b, c := s.XX/t, s.YY/t, s.ZZ/t
	f, g, h := s.XY/t, s.XZ/t, s.YZ/t
	m := a*b - f*f + a*c - g*g + b*c - h*h
	q := a*(b*c-h*h) - f*(f*c-h*g) + g*(f*h-b*g)
	for range newtonSteps {
		p := ((lambda-1)*lambda+m)*lambda - q
		dp := (3*lambda-2)*lambda + m
		if p >= 0 || dp <= 0 {
			break
		}
		step := -p / dp
		lambda += step
		if step < newtonEnd {
			break
		}
	}
	// The eigenvector is perpendicular to the rows of s - λI: take the longest
	// of their cross products.
	r0 := r3.Vector{X: a - lambda, Y: f, Z: g}
	r1 := r3.Vector{X: f, Y: b - lambda, Z: h}
	r2 := r3.Vector{X: g, Y: h, Z: c - lambda}
	best := 0.0
	for _, w := range [3]r3.Vector{r0.Cross(r1), r0.Cross(r2), r1.Cross(r2)} {
		if l := w.Norm2(); l > best {
			best, v = l, w
		}
	}
	// The longest cross product is about the product of the two other gaps.
	if best < leastGaps {
		return r3.Vector{}, lambda * t, false
	}
	return v.Mul(1 / math.Sqrt(best)), lambda * t, true
}

// Eigen returns the eigenvalues of s, ascending, and their unit eigenvectors.
func (s Sym3) Eigen() (val [3]float64, vec [3]r3.Vector) {
	a := [9]float64{s.XX, s.XY, s.XZ, s.XY, s.YY, s.YZ, s.XZ, s.YZ, s.ZZ}
	var v [9]float64
	EigenSym(a[:], val[:], v[:])
	for k := range vec {
		vec[k] = r3.Vector{X: v[3*k], Y: v[3*k+1], Z: v[3*k+2]}
	}
	return val, vec
}

// EigenSym diagonalises a symmetric n×n matrix a, by rows, which it destroys:
// eigenvalue k, ascending, goes to val[k], n of them, and its unit eigenvector
// to row k of vec. Jacobi's cyclic rotations (Golub & Van Loan, Matrix
// Computations, algorithm 8.5.3) keep the digits of small eigenvalues.
func EigenSym(a, val, vec []float64) {
	n := len(val)
	clear(vec)
	for i := range n {
		vec[i*n+i] = 1
	}
	for range jacobiSweeps {
		off, diag := 0.0, 0.0
		for i := range n {
			diag += a[i*n+i] * a[i*n+i]
			for j := i + 1; j < n; j++ {
				off += a[i*n+j] * a[i*n+j]
			}
		}
		if off <= jacobiEnd*diag || off == 0 {
			break
		}
		for p := range n {
			for q := p + 1; q < n; q++ {
				rotate(a, vec, n, p, q)
			}
		}
	}
	for i := range n {
		val[i] = a[i*n+i]
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
				vec[i*n+k], vec[m*n+k] = vec[m*n+k], vec[i*n+k]
			}
		}
	}
}

// rotate makes a[p][q] zero by a plane rotation.
func rotate(a, vec []float64, n, p, q int) {
	apq := a[p*n+q]
	if apq == 0 {
		return
	}
	th := (a[q*n+q] - a[p*n+p]) / (2 * apq)
	t := math.Copysign(1, th) / (math.Abs(th) + math.Sqrt(th*th+1))
	c := 1 / math.Sqrt(t*t+1)
	s := t * c
	for k := range n {
		x, y := a[k*n+p], a[k*n+q]
		a[k*n+p], a[k*n+q] = c*x-s*y, s*x+c*y
	}
	for k := range n {
		x, y := a[p*n+k], a[q*n+k]
		a[p*n+k], a[q*n+k] = c*x-s*y, s*x+c*y
		x, y = vec[p*n+k], vec[q*n+k]
		vec[p*n+k], vec[q*n+k] = c*x-s*y, s*x+c*y
	}
	a[p*n+q], a[q*n+p] = 0, 0
}

// Tridiagonal turns a symmetric n×n matrix a, by rows, of which it reads the lower triangle
// and destroys all, into QᵀaQ with the diagonal diag and beside next to it, and each vector
// of z into Qᵀz. Householder's reflections (Golub & Van Loan, Matrix Computations,
// algorithm 8.3.1).
func Tridiagonal(a []float64, n int, z [][]float64) (diag, beside []float64) {
	diag, beside = make([]float64, n), make([]float64, max(n-1, 0))
	v, w := make([]float64, n), make([]float64, n)
	for k := range beside {
		v, w := v[k+1:], w[k+1:]
		for i := range v {
			v[i] = a[(k+1+i)*n+k]
		}
		beside[k] = -math.Copysign(floats.Norm(v, 2), v[0])
		v[0] -= beside[k]
		length2 := floats.Dot(v, v)
		if length2 == 0 {
			continue
		}
		for _, y := range z {
			floats.AddScaled(y[k+1:], -2/length2*floats.Dot(v, y[k+1:]), v)
		}
		clear(w) // to a v
		for i, vi := range v {
			row := a[(k+1+i)*n+k+1:][:i+1]
			w[i] += floats.Dot(row, v[:i+1])
			floats.AddScaled(w[:i], vi, row[:i])
		}
		floats.Scale(2/length2, w)
		floats.AddScaled(w, -floats.Dot(v, w)/length2, v)
		for i, vi := range v {
			row := a[(k+1+i)*n+k+1:][:i+1]
			floats.AddScaled(row, -vi, w[:i+1])
			floats.AddScaled(row, -w[i], v[:i+1])
		}
	}
	for k := range diag {
		diag[k] = a[k*n+k]
	}
	return diag, beside
}

// Cholesky factors a symmetric positive definite n×n matrix a, by rows, into
// L Lᵀ: the lower triangle of a becomes L, its upper triangle is neither read
// nor changed. ok is false where a pivot is not more than tol times its
// diagonal element, so that the matrix is singular to that part.
func Cholesky(a []float64, n int, tol float64) (ok bool) {
	for i := range n {
		row := a[i*n : i*n+i+1]
		for j := range i {
			other := a[j*n : j*n+j+1]
			s := row[j]
			for k := range j {
				s -= row[k] * other[k]
			}
			row[j] = s / other[j]
		}
		s := row[i]
		for k := range i {
			s -= row[k] * row[k]
		}
		if !(s > tol*row[i]) {
			return false
		}
		row[i] = math.Sqrt(s)
	}
	return true
}

// CholeskySolve solves L Lᵀ x = b with the factor that Cholesky left in l. x
// takes the place of b.
func CholeskySolve(l, b []float64) {
	n := len(b)
	for i := range n {
		s := b[i]
		for k := range i {
			s -= l[i*n+k] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < n; k++ {
			s -= l[k*n+i] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
}
