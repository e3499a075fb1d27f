package scansim

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
)

func TestLatticeHasTheCorrelationAsked(t *testing.T) {
	// One value a seed: 10,000 of them, five deviations of at most 0.014, and
	// 0.03 for the B-spline's autocorrelation being only close to a Gaussian.
	const n, length = 10_000, 3.0
	p := r3.Vector{X: 4.1, Y: -7.7, Z: 2.2}
	for _, d := range []float64{0, 0.5, 1, 1.5, 2, 3} {
		dir := r3.Vector{X: 1, Y: 2, Z: -0.5}.Normalize()
		sum, mean := 0.0, 0.0
		for seed := range uint64(n) {
			l := newLattice(seed, length)
			a, b := l.at(p), l.at(p.Add(dir.Mul(d*length)))
			sum += a * b / n
			mean += a / n
		}
		assert.InDelta(t, math.Exp(-d*d/2), sum, 0.07+0.03, "at %v lengths", d)
		assert.InDelta(t, 0, mean, 5/math.Sqrt(n))
	}
}
