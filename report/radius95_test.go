package report

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The ball of three equal variances has the 95 % point of χ² with 3 degrees of
// freedom, 7.815 in the usual tables; one of a single direction is 1.960 s. An
// elongated one holds 95 % of 40,000 draws: standard deviation 0.109 %, bound 3.5
// of them plus the 0.5 % that matching two moments may be off.
func TestBall95(t *testing.T) {
	diagonal := func(x, y, z float64) (c [4][4]float64) {
		c[0][0], c[1][1], c[2][2], c[3][3] = x*x, y*y, z*z, 9
		return c
	}
	assert.InDelta(t, 7.815, math.Pow(ball95(diagonal(1, 1, 1)), 2), 5e-4)
	assert.InDelta(t, 0.02*1.959964, ball95(diagonal(0, 0.02, 0)), 1e-7)
	assert.Zero(t, ball95(diagonal(0, 0, 0)))
	assert.Zero(t, ball95(diagonal(math.NaN(), 1, 1)))
	assert.Zero(t, ball95(diagonal(math.Inf(1), 1, 1)))

	r := ball95(diagonal(1, 0.5, 0.3))
	rng := rand.New(rand.NewPCG(6, 2))
	in := 0
	for range 40000 {
		x, y, z := rng.NormFloat64(), 0.5*rng.NormFloat64(), 0.3*rng.NormFloat64()
		if x*x+y*y+z*z <= r*r {
			in++
		}
	}
	assert.InDelta(t, 0.95, float64(in)/40000, 0.0089)
}
