package fit

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An iteration allocates nothing on one core, and on several what starting them takes,
// however many the points.
func TestIterationAllocatesNothing(t *testing.T) {
	for _, n := range []int{100, 2 * parallelFrom} {
		c, err := columns("cylinder", tube(n), Options{}, 5)
		require.NoError(t, err)
		w := r3.Vector{X: 2, Y: 3, Z: 6}.Mul(1.0 / 7)
		state := arcAt(r3.Vector{X: 0.001}, w, 10/c.scale)
		for name, m := range map[string]*round{
			"circle":          {form: circle2DForm, cur: state},
			"circle in space": {form: circleForm, cur: state},
			"sphere":          {form: sphereForm, cur: state},
			"cylinder":        {form: cylinderForm, cur: state},
			"cone":            {form: coneForm, cur: state},
		} {
			crew := newAccumulator(m, c)
			var s sums
			var step [maxParams]float64
			got := testing.AllocsPerRun(5, func() {
				m.try(&step)
				crew.sum(&s)
				normalStep(&s, m.params(), 1e-9, &step)
				for i := range step {
					step[i] *= 1e-9
				}
				m.accept()
			})
			if n < parallelFrom {
				assert.Zero(t, got, name)
			}
			assert.Less(t, got, 20.0, "%s, %d points", name, n)
			assert.False(t, math.IsNaN(s.f), name)
		}
	}
}
