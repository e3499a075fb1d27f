package hole

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tapped draws a wall with the profile of an ISO metric thread (ISO 68-1: flanks of 60
// degrees, flats of a quarter and an eighth of the pitch, from memory), or with rings of the same.
func tapped(diameter, pitch, length float64, turns float64, noise float64) (pts [][2]float64, z []float64) {
	rng := rand.New(rand.NewPCG(4, 4))
	for range 4000 {
		a, h := 2*math.Pi*rng.Float64(), -length*rng.Float64()
		p := h/pitch - turns*a/(2*math.Pi)
		p -= math.Floor(p)
		deep := math.Min(1, math.Max(0, (math.Abs(2*p-1)-0.25)/0.625)) // 0 at the crest of the material
		r := diameter/2 - 0.5413*pitch*(1-deep) + noise*rng.NormFloat64()
		pts, z = append(pts, [2]float64{3 + r*math.Cos(a), 1 + r*math.Sin(a)}), append(z, h)
	}
	return pts, z
}

func TestThread(t *testing.T) {
	for _, c := range []struct{ d, p float64 }{{8, 1.25}, {6, 1}, {20, 2.5}, {12, 1.5}} {
		pts, z := tapped(c.d, c.p, 10, 1, 0.03)
		th, ok := FindThread(Circle(3.02, 1, c.d/2-0.3*c.p), pts, z, 0.2)
		require.True(t, ok, "M%v", c.d)
		assert.InDelta(t, c.p, th.Pitch, 0.01*c.p)
		assert.InDelta(t, c.d, th.Major, 0.1*c.p)
		assert.InDelta(t, c.d-1.0825*c.p, th.Minor, 0.1*c.p)
		// Without the thread the wall is a cylinder.
		sum := 0.0
		for i, p := range pts {
			e := math.Hypot(p[0]-3, p[1]-1) - th.Off(math.Atan2(p[1]-1, p[0]-3), z[i]) - c.d/2 + 0.3045*c.p
			sum += e * e
		}
		assert.Less(t, math.Sqrt(sum/4000), 0.12*c.p)
	}
	// Printed layers, and a plain wall, are no threads.
	pts, z := tapped(8, 1.25, 10, 0, 0.03)
	_, ok := FindThread(Circle(3, 1, 3.6), pts, z, 0.2)
	assert.False(t, ok, "rings")
	pts, z = tapped(8, 1e-9, 10, 0, 0.03)
	_, ok = FindThread(Circle(3, 1, 4), pts, z, 0.2)
	assert.False(t, ok, "plain")
}
