package fit

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An iteration allocates nothing, on one core or several.
func TestIterationAllocatesNothing(t *testing.T) {
	for _, n := range []int{100, 2 * parallelFrom} {
		c, err := columns("cylinder", tube(n), Options{}, 5)
		require.NoError(t, err)
		w := r3.Vector{X: 2, Y: 3, Z: 6}.Mul(1.0 / 7)
		state := arcAt(r3.Vector{X: 0.001}, w, 10/c.scale)
		for name, m := range map[string]model{
			"circle":          &circle2Model{cur: state},
			"circle in space": &circleModel{cur: state},
			"sphere":          &sphereModel{cur: state},
			"cylinder":        &cylinderModel{cur: state},
			"cone":            &coneModel{cur: state, phi: 0.1},
		} {
			crew := newCrew(m, c)
			var s sums
			var step [maxParams]float64
			got := testing.AllocsPerRun(20, func() {
				m.try(&step)
				crew.sum(&s)
				normalStep(&s, m.params(), 1e-9, &step)
				for i := range step {
					step[i] *= 1e-9
				}
				m.accept()
			})
			crew.close()
			assert.Zero(t, got, "%s, %d points", name, n)
			assert.False(t, math.IsNaN(s.f), name)
		}
	}
}
