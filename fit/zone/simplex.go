package zone

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

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
	rhs, minus := mat.NewVecDense(q, nil), mat.NewVecDense(q, nil)
	minus.ScaleVec(-1, mat.NewVecDense(q, l.cost))
	b := mat.NewDense(q, q, nil)
	var lu mat.LU
	var point, lambda, w mat.VecDense
	for range maxPivots {
		for i, c := range l.basis {
			rhs.SetVec(i, c.b)
			b.SetRow(i, c.a[:q])
		}
		lu.Factorize(b)
		if singular(lu.SolveVecTo(&point, false, rhs)) {
			return nil, false
		}
		y := point.RawVector().Data
		enter, violated := worst(y)
		if !violated {
			return y, true
		}
		if singular(lu.SolveVecTo(&lambda, true, minus)) || singular(lu.SolveVecTo(&w, true, mat.NewVecDense(q, enter.a[:q]))) {
			return nil, false
		}
		leave, t := -1, math.Inf(1)
		for i := range q {
			if v := w.AtVec(i); v > leastPivot {
				if r := max(lambda.AtVec(i), 0) / v; r < t || r == t && v > w.AtVec(leave) {
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

// singular reports whether a system has no solution; an ill-conditioned one has.
func singular(err error) bool {
	var c mat.Condition
	return err != nil && (!errors.As(err, &c) || math.IsInf(float64(c), 1))
}
