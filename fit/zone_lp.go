package fit

import "math"

// zoneVars is the number of variables of a linear step: a model's parameters
// and the half width of the zone.
const zoneVars = maxParams + 1

// lpRow is the constraint a·y ≤ b.
type lpRow struct {
	a  [zoneVars]float64
	b  float64
	id int // of the point; below zero for a bound
}

// dualSimplex minimises c·y over the rows that worst hands out, from a basis of
// q rows that with λ ≥ 0 balance c: B'λ = -c. worst returns the row most
// violated at y, or ok false where none is. It ends at the optimum, the basis'
// λ being its certificate: every row holds, and no λ is negative (Lemke, Naval
// Res. Logist. Q. 1 (1954) 36–47; Chvátal, Linear programming (1983), chapter
// 10). False where it takes too many pivots.
func dualSimplex(c *[zoneVars]float64, q int, basis *[zoneVars]lpRow, worst func(y *[zoneVars]float64) (lpRow, bool)) (y [zoneVars]float64, ok bool) {
	for range 400 {
		var rhs [zoneVars]float64
		for i := range q {
			rhs[i] = basis[i].b
		}
		y, ok = solveRows(basis, q, &rhs, false)
		if !ok {
			return y, false
		}
		enter, violated := worst(&y)
		if !violated {
			return y, true
		}
		var minus [zoneVars]float64
		for i := range q {
			minus[i] = -c[i]
		}
		lambda, ok1 := solveRows(basis, q, &minus, true)
		w, ok2 := solveRows(basis, q, &enter.a, true)
		if !ok1 || !ok2 {
			return y, false
		}
		leave, t := -1, math.Inf(1)
		for i := range q {
			if w[i] > 1e-11 {
				if r := max(lambda[i], 0) / w[i]; r < t || r == t && w[i] > w[leave] {
					leave, t = i, r
				}
			}
		}
		if leave < 0 {
			return y, false // no point satisfies all rows
		}
		basis[leave] = enter
	}
	return y, false
}

// solveRows solves B x = r, or B'x = r, with the rows of the basis as B, by
// elimination with pivots.
func solveRows(basis *[zoneVars]lpRow, q int, r *[zoneVars]float64, transposed bool) (x [zoneVars]float64, ok bool) {
	var m [zoneVars][zoneVars + 1]float64
	for i := range q {
		for j := range q {
			if transposed {
				m[i][j] = basis[j].a[i]
			} else {
				m[i][j] = basis[i].a[j]
			}
		}
		m[i][q] = r[i]
	}
	for c := range q {
		p := c
		for i := c + 1; i < q; i++ {
			if math.Abs(m[i][c]) > math.Abs(m[p][c]) {
				p = i
			}
		}
		if m[p][c] == 0 {
			return x, false
		}
		m[c], m[p] = m[p], m[c]
		for i := c + 1; i < q; i++ {
			f := m[i][c] / m[c][c]
			for j := c; j <= q; j++ {
				m[i][j] -= f * m[c][j]
			}
		}
	}
	for i := q - 1; i >= 0; i-- {
		v := m[i][q]
		for j := i + 1; j < q; j++ {
			v -= m[i][j] * x[j]
		}
		x[i] = v / m[i][i]
	}
	return x, true
}
