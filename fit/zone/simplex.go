package zone

import "math"

// maxVars is the number of variables of a linear program: a shape's parameters and
// the half width of the zone.
const maxVars = 7

// constraint is a·y ≤ b.
type constraint struct {
	a  [maxVars]float64
	b  float64
	id int // of the point; below zero for a bound
}

// program minimises cost·y over constraints, from a basis of as many of them as
// there are variables that with λ ≥ 0 balances the cost: B'λ = -cost.
type program struct {
	vars  int
	cost  []float64
	basis []constraint
}

// solve returns the optimum. worst returns the constraint most violated at y, or
// false where none is. At the optimum λ is a certificate: every constraint holds,
// and no λ is negative (dual simplex: Lemke, Naval Res. Logist. Q. 1 (1954) 36–47;
// Chvátal, Linear programming (1983), chapter 10). False where it takes too many
// pivots.
func (l *program) solve(worst func(y []float64) (constraint, bool)) (y []float64, ok bool) {
	q := l.vars
	rhs, minus := make([]float64, q), make([]float64, q)
	for i, c := range l.cost {
		minus[i] = -c
	}
	for range maxPivots {
		for i := range rhs {
			rhs[i] = l.basis[i].b
		}
		point, ok := l.system(rhs, false)
		if !ok {
			return nil, false
		}
		y := point[:q]
		enter, violated := worst(y)
		if !violated {
			return y, true
		}
		lambda, ok1 := l.system(minus, true)
		w, ok2 := l.system(enter.a[:q], true)
		if !ok1 || !ok2 {
			return nil, false
		}
		leave, t := -1, math.Inf(1)
		for i := range q {
			if w[i] > leastPivot {
				if r := max(lambda[i], 0) / w[i]; r < t || r == t && w[i] > w[leave] {
					leave, t = i, r
				}
			}
		}
		if leave < 0 {
			return nil, false // no point satisfies all constraints
		}
		l.basis[leave] = enter
	}
	return nil, false
}

// system solves B x = r, or B'x = r, with the basis' rows as B, by elimination with
// pivots.
func (l *program) system(r []float64, transposed bool) (x [maxVars]float64, ok bool) {
	q := l.vars
	var m [maxVars][maxVars + 1]float64
	for i := range q {
		for j := range q {
			if transposed {
				m[i][j] = l.basis[j].a[i]
			} else {
				m[i][j] = l.basis[i].a[j]
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
