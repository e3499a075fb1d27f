package report

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// reflection is H = 1 - t v vᵀ, v being zero before from (Golub & Van Loan, Matrix
// Computations, 4th edition, section 5.1).
type reflection struct {
	v    []float64 // from there on
	t    float64
	from int
}

// onto returns the reflection that takes x, which begins at from, into its first
// coordinate, and what that becomes.
func onto(x []float64, from int) (reflection, float64) {
	v := append([]float64(nil), x...)
	norm := floats.Norm(v, 2)
	if norm == 0 {
		return reflection{v: v, from: from}, 0
	}
	if v[0] > 0 {
		norm = -norm // no digits lost in the difference
	}
	v[0] -= norm
	return reflection{v: v, t: 2 / floats.Dot(v, v), from: from}, norm
}

// vector is x = H x.
func (h *reflection) vector(x []float64) {
	x = x[h.from:]
	floats.AddScaled(x, -h.t*floats.Dot(h.v, x), h.v)
}

// both is S = H S H for a symmetric S, of the rows and columns from least on,
// least ≤ from: with u = t S v and u = u - t (vᵀu)/2 v, S = S - v uᵀ - u vᵀ.
func (h *reflection) both(s *mat.Dense, least int) {
	n, _ := s.Dims()
	u := make([]float64, n-least)
	for i := range u {
		u[i] = h.t * floats.Dot(s.RawRowView(least + i)[h.from:], h.v)
	}
	gap := h.from - least
	floats.AddScaled(u[gap:], -h.t/2*floats.Dot(h.v, u[gap:]), h.v)
	for i := range u {
		row := s.RawRowView(least + i)
		floats.AddScaled(row[h.from:], -u[i], h.v)
		if i >= gap {
			floats.AddScaled(row[least:], -h.v[i-gap], u)
		}
	}
}

// triangular returns the reflections, the first first, that make x triangular, as
// which it is left.
func triangular(x *mat.Dense) []reflection {
	n, p := x.Dims()
	turns := make([]reflection, p)
	column := make([]float64, n)
	for k := range p {
		mat.Col(column, k, x)
		turns[k], _ = onto(column[k:], k)
		for j := k; j < p; j++ {
			mat.Col(column, j, x)
			turns[k].vector(column)
			x.SetCol(j, column)
		}
	}
	return turns
}

// tridiagonal is a symmetric matrix T with its diagonal, what stands beside it, and
// a vector e in the same coordinates.
type tridiagonal struct {
	diagonal, beside, e []float64
}

// straighten returns s, from row and column least on, made tridiagonal by
// reflections (Golub & Van Loan, algorithm 8.3.1), and e with it; s is used up.
func straighten(s *mat.Dense, least int, e []float64) *tridiagonal {
	n, _ := s.Dims()
	t := &tridiagonal{e: append([]float64(nil), e...)}
	for k := least; k < n; k++ {
		row := s.RawRowView(k)
		t.diagonal = append(t.diagonal, row[k])
		if k+1 == n {
			break
		}
		h, beside := onto(row[k+1:], k+1)
		t.beside = append(t.beside, beside)
		h.vector(t.e)
		h.both(s, k+1)
	}
	t.e = t.e[least:]
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
