package geom

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// The optimum over a box and random half spaces through it is that of gonum's simplex
// method on all constraints at once, and the multipliers prove it: they are not negative,
// and λ·b is the optimum with its sign turned.
func TestLinearProgramAgreesWithGonum(t *testing.T) {
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 3))
		const q = 4
		l := LinearProgram{MaxPivots: 200}
		var all []Constraint
		for k := range q {
			l.Cost = append(l.Cost, rng.NormFloat64())
			for _, sign := range []float64{1, -1} {
				c := Constraint{B: 10}
				c.A[k] = sign
				all = append(all, c)
				if sign*l.Cost[k] < 0 {
					l.Basis = append(l.Basis, c)
				}
			}
		}
		for range 40 {
			c := Constraint{B: 1 + rng.Float64()}
			for k := range q {
				c.A[k] = rng.NormFloat64()
			}
			all = append(all, c)
		}
		y, ok := l.Solve(func(y []float64) (worst Constraint, violated bool) {
			most := 1e-10
			for _, c := range all {
				v := -c.B
				for k := range q {
					v += c.A[k] * y[k]
				}
				if v > most {
					most, worst, violated = v, c, true
				}
			}
			return worst, violated
		})
		require.True(t, ok)
		value, dual := 0.0, 0.0
		for k := range q {
			value += l.Cost[k] * y[k]
			dual -= l.Multipliers[k] * l.Basis[k].B
			assert.GreaterOrEqual(t, l.Multipliers[k], -1e-12)
		}
		g, h := mat.NewDense(len(all), q, nil), make([]float64, len(all))
		for i, c := range all {
			g.SetRow(i, c.A[:q])
			h[i] = c.B
		}
		cost, a, b := lp.Convert(l.Cost, g, h, nil, nil)
		want, _, err := lp.Simplex(cost, a, b, 1e-10, nil)
		require.NoError(t, err)
		assert.InDelta(t, want, value, 1e-8)
		assert.InDelta(t, value, dual, 1e-8)
	}
}
