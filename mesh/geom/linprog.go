package geom

import "math"

// MaxVars is the most variables that a LinearProgram may have.
const MaxVars = 7

// Constraint is A·y ≤ B.
type Constraint struct {
	A  [MaxVars]float64
	B  float64
	ID int // the caller's
}

// LinearProgram minimises Cost·y over constraints, from a basis of as many of them as
// there are variables that with multipliers λ ≥ 0 balances the cost: B'λ = -Cost. The
// basis is replaced by that of the optimum.
type LinearProgram struct {
	Cost      []float64
	Basis     []Constraint
	MaxPivots int
}

// leastPivot is the least coefficient, relative to the constraints' own of about one,
// that a basis may be changed on: less is rounding.
const leastPivot = 1e-12

// Solve returns the optimum. worst returns the constraint most violated at y, or
// false where none is. At the optimum λ is a certificate: every constraint holds,
// and no λ is negative (dual simplex: Lemke, Naval Res. Logist. Q. 1 (1954) 36–47;
// Chvátal, Linear programming (1983), chapter 10). False where it takes too many
// pivots, or no point satisfies all constraints.
func (l *LinearProgram) Solve(worst func(y []float64) (Constraint, bool)) (y []float64, ok bool) {
	q := len(l.Cost)
	rhs := make([]float64, q)
	for range l.MaxPivots {
		for i := range rhs {
			rhs[i] = l.Basis[i].B
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
		lambda := l.Multipliers()
		w, ok := l.system(enter.A[:q], true)
		if !ok || lambda == nil {
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
			return nil, false
		}
		l.Basis[leave] = enter
	}
	return nil, false
}

// Multipliers returns λ of the basis, nil where it is singular.
func (l *LinearProgram) Multipliers() []float64 {
	minus := make([]float64, len(l.Cost))
	for i, c := range l.Cost {
		minus[i] = -c
	}
	lambda, ok := l.system(minus, true)
	if !ok {
		return nil
	}
	return lambda[:len(l.Cost)]
}

// system solves B x = r, or B'x = r, with the basis' rows as B, by elimination with
// pivots.
func (l *LinearProgram) system(r []float64, transposed bool) (x [MaxVars]float64, ok bool) {
	q := len(l.Cost)
	var m [MaxVars][MaxVars + 1]float64
	for i := range q {
		for j := range q {
			if transposed {
				m[i][j] = l.Basis[j].A[i]
			} else {
				m[i][j] = l.Basis[i].A[j]
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
