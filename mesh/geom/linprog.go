package geom

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// MaxVars is the most variables that a LinearProgram may have.
const MaxVars = 7

// Constraint is A·y ≤ B.
type Constraint struct {
	A  [MaxVars]float64
	B  float64
	ID int // the caller's
}

// LinearProgram minimises Cost·y over constraints, from a basis of as many of them as
// there are variables that with multipliers λ ≥ 0 balances the cost: B'λ = -Cost.
type LinearProgram struct {
	Cost []float64
	// Basis is replaced by that of the optimum, and Multipliers are then its λ.
	Basis       []Constraint
	Multipliers [MaxVars]float64
	MaxPivots   int
}

// Solve returns the optimum. worst returns the constraint most violated at y, or
// false where none is. At the optimum λ is a certificate: every constraint holds,
// and no λ is negative (dual simplex: Lemke, Naval Res. Logist. Q. 1 (1954) 36–47;
// Chvátal, Linear programming (1983), chapter 10). False where it takes too many
// pivots, or no point satisfies all constraints.
func (l *LinearProgram) Solve(worst func(y []float64) (Constraint, bool)) (y []float64, ok bool) {
	q := len(l.Cost)
	rhs, minus := mat.NewVecDense(q, nil), mat.NewVecDense(q, nil)
	minus.ScaleVec(-1, mat.NewVecDense(q, l.Cost))
	b := mat.NewDense(q, q, nil)
	lambda := mat.NewVecDense(q, l.Multipliers[:q])
	var lu mat.LU
	var point, w mat.VecDense
	for range l.MaxPivots {
		for i, c := range l.Basis {
			rhs.SetVec(i, c.B)
			b.SetRow(i, c.A[:q])
		}
		lu.Factorize(b)
		if singular(lu.SolveVecTo(&point, false, rhs)) ||
			singular(lu.SolveVecTo(lambda, true, minus)) {
			return nil, false
		}
		y := point.RawVector().Data
		enter, violated := worst(y)
		if !violated {
			return y, true
		}
		if singular(lu.SolveVecTo(&w, true, mat.NewVecDense(q, enter.A[:q]))) {
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
			return nil, false
		}
		l.Basis[leave] = enter
	}
	return nil, false
}

// singular reports whether a system has no solution; an ill-conditioned one has.
func singular(err error) bool {
	var c mat.Condition
	return err != nil && (!errors.As(err, &c) || math.IsInf(float64(c), 1))
}
