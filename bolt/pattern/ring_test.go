package pattern

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The ring's derivatives against central differences.
func TestRingJacobian(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	pts := make([][2]float64, 7)
	for i := range pts {
		a := float64(i) + 0.3*rng.NormFloat64()
		pts[i] = [2]float64{10*math.Cos(a) + 0.5*rng.NormFloat64(), 10*math.Sin(a) + 0.5*rng.NormFloat64()}
	}
	g, err := FitRing(pts)
	require.NoError(t, err)
	const h = 1e-5
	for i := range pts {
		for k := range 2 {
			moved := func(d float64) *RingFit {
				q := append([][2]float64(nil), pts...)
				q[i][k] += d
				m, err := FitRing(q)
				require.NoError(t, err)
				return m
			}
			p, m := moved(h), moved(-h)
			assert.InDelta(t, (p.X-m.X)/(2*h), g.DX[2*i+k], 1e-6)
			assert.InDelta(t, (p.Y-m.Y)/(2*h), g.DY[2*i+k], 1e-6)
			assert.InDelta(t, (p.R-m.R)/(2*h), g.DR[2*i+k], 1e-6)
		}
	}
}
