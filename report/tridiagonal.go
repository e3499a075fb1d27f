package report

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/gonum"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// rotation is an orthogonal matrix Q, as LAPACK's product of reflections.
type rotation struct {
	reflections blas64.General
	tau         []float64
}

// onto returns the Q of x = Q R; x is
// used up.
func onto(x *mat.Dense) rotation {
	q := rotation{x.RawMatrix(), make([]float64, min(x.Dims()))}
	work(func(w []float64, n int) { lapack64.Geqrf(q.reflections, q.tau, w, n) })
	return q
}

// vector is x = Qᵀ x.
func (q *rotation) vector(x []float64) {
	q.times(blas.Left, blas.Trans, blas64.General{Rows: len(x), Cols: 1, Stride: 1, Data: x})
}

// both is S = Qᵀ S Q.
func (q *rotation) both(s *mat.Dense) {
	q.times(blas.Left, blas.Trans, s.RawMatrix())
	q.times(blas.Right, blas.NoTrans, s.RawMatrix())
}

func (q *rotation) times(side blas.Side, way blas.Transpose, c blas64.General) {
	work(func(w []float64, n int) { lapack64.Ormqr(side, way, q.reflections, q.tau, c, w, n) })
}

// work calls a routine of LAPACK twice: for the size of the space that it needs, then
// with that.
func work(routine func(space []float64, n int)) {
	size := make([]float64, 1)
	routine(size, -1)
	routine(make([]float64, int(size[0])), int(size[0]))
}

// tridiagonal is a symmetric matrix T with its diagonal, what stands beside it, and
// a vector e in the same coordinates.
type tridiagonal struct {
	diagonal, beside, e []float64
}

// straighten returns s, from row and column least on, made tridiagonal by a turn, and
// e with it; s is used up.
func straighten(s *mat.Dense, least int, e []float64) *tridiagonal {
	a := s.RawMatrix()
	n := a.Rows - least
	a.Rows, a.Cols, a.Data = n, n, a.Data[least*a.Stride+least:]
	t := &tridiagonal{make([]float64, n), make([]float64, n-1), append([]float64(nil), e[least:]...)}
	tau := make([]float64, n-1)
	work(func(w []float64, size int) {
		gonum.Implementation{}.Dsytrd(blas.Lower, n, a.Data, a.Stride, t.diagonal, t.beside, tau, w, size)
	})
	if n > 1 {
		// The turn leaves the first coordinate alone; its reflections stand below it.
		q := rotation{blas64.General{Rows: n - 1, Cols: n - 1, Stride: a.Stride, Data: a.Data[a.Stride:]}, tau}
		q.vector(t.e[1:])
	}
	return t
}

// of returns the logarithm of the determinant of V = 1 + f T, and eᵀ V⁻¹ e, by
// V = L D Lᵀ.
func (t *tridiagonal) of(f float64) (logdet, quad float64) {
	var l, d, z float64 // of the row before
	for i := range t.diagonal {
		di, zi := 1+f*t.diagonal[i], t.e[i]
		if i > 0 {
			l = f * t.beside[i-1] / d
			di -= l * l * d
			zi -= l * z
		}
		d, z = di, zi
		logdet += math.Log(d)
		quad += z * z / d
	}
	return logdet, quad
}
