package pattern

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// By hand: of a square with one corner off by d outward along its diagonal, a shift by d/2
// along the diagonal leaves d/2 at that corner and d/2 at the opposite one, and no turn
// and shift can do better for those two alone; about a held centre all of d is left.
func TestZoneByHand(t *testing.T) {
	nominal := [][2]float64{{30, 30}, {-30, 30}, {-30, -30}, {30, -30}}
	const d = 0.2
	xy := append([][2]float64{}, nominal...)
	xy[0][0] += d / math.Sqrt2
	xy[0][1] += d / math.Sqrt2
	z, err := ToZone(nominal, features(0.01, 6, xy...).Places, 1, nil, nil)
	require.NoError(t, err)
	assert.InDelta(t, d, z.Diameter, 1e-6)
	assert.LessOrEqual(t, z.Gap, 2e-3)
	held, err := ToZone(nominal, features(0.01, 6, xy...).Places, 1, &[2]float64{}, nil)
	require.NoError(t, err)
	assert.InDelta(t, 2*d, held.Diameter, 1e-9)
	assert.Equal(t, 0, held.Worst)
	assert.LessOrEqual(t, held.Gap, 1e-9)
}

// No layout near the one found is better than the gap allows, and it is as it is said to
// be.
func TestZoneAgainstASearch(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	for trial := range 20 {
		n := 3 + trial%6
		var nominal, xy [][2]float64
		turn := 2 * math.Pi * rng.Float64()
		sin, cos := math.Sincos(turn)
		for range n {
			q := [2]float64{100 * rng.Float64(), 100 * rng.Float64()}
			nominal = append(nominal, q)
			xy = append(xy, [2]float64{7 + 1.02*(cos*q[0]-sin*q[1]) + 0.2*rng.NormFloat64(),
				-3 + 1.02*(sin*q[0]+cos*q[1]) + 0.2*rng.NormFloat64()})
		}
		m := features(0.01, 6, xy...).Places
		for _, centre := range []*[2]float64{nil, {7, -3}} {
			z, err := ToZone(nominal, m, 1.02, centre, nil)
			require.NoError(t, err)
			largest := func(c [2]float64, w s1.Angle) (d float64) {
				s, k := math.Sincos(w.Radians())
				for i, q := range nominal {
					x, y := c[0]+1.02*(k*q[0]-s*q[1]), c[1]+1.02*(s*q[0]+k*q[1])
					d = max(d, 2*math.Hypot(xy[i][0]-x, xy[i][1]-y))
				}
				return d
			}
			assert.InDelta(t, z.Diameter, largest(z.Centre, z.Turn), 1e-9)
			for range 3000 {
				c, w := z.Centre, z.Turn+s1.Angle(0.003*rng.NormFloat64()*rng.Float64())
				if centre == nil {
					c[0] += 0.3 * rng.NormFloat64() * rng.Float64()
					c[1] += 0.3 * rng.NormFloat64() * rng.Float64()
				}
				require.GreaterOrEqual(t, largest(c, w), z.Diameter-z.Gap-1e-9)
			}
			assert.Less(t, z.Gap, 0.06*z.Diameter)
		}
	}
}

// With slack at each place, against an enumeration: a grid of shifts and turns, refined about
// its best point, finds nothing smaller, and nothing much larger. Two places that are off
// opposite ways by a and b along the line between them share it: a + b across.
func TestZoneWithSlack(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for range 10 {
		var nominal, xy [][2]float64
		var slack []float64
		for i := range 6 {
			sin, cos := math.Sincos(float64(i) * math.Pi / 3)
			nominal = append(nominal, [2]float64{42 * cos, 42 * sin})
			xy = append(xy, [2]float64{42*cos + 0.1*rng.NormFloat64(), 42*sin + 0.1*rng.NormFloat64()})
			slack = append(slack, 0.05*rng.Float64())
		}
		z, err := ToZone(nominal, features(0.01, 6, xy...).Places, 1, nil, slack)
		require.NoError(t, err)
		value := func(x, y, turn float64) float64 {
			v := math.Inf(-1)
			sin, cos := math.Sincos(turn)
			for i, p := range nominal {
				v = max(v, 2*(math.Hypot(xy[i][0]-x-cos*p[0]+sin*p[1], xy[i][1]-y-sin*p[0]-cos*p[1])-slack[i]))
			}
			return v
		}
		best, at := math.Inf(1), [3]float64{}
		for step := 0.05; step > 1e-5; step /= 2 {
			about := at
			for i := range 9 * 9 * 9 {
				x, y, w := about[0]+step*float64(i%9-4), about[1]+step*float64(i/9%9-4), about[2]+step*float64(i/81-4)/42
				if v := value(x, y, w); v < best {
					best, at = v, [3]float64{x, y, w}
				}
			}
		}
		assert.LessOrEqual(t, z.Diameter, best+1e-6+z.Gap)
		assert.InDelta(t, best, z.Diameter, 1e-3)
		assert.Less(t, z.Worst, 6)
	}
	two := [][2]float64{{40, 0}, {-40, 0}}
	z, err := ToZone(two, features(0.01, 6, [2]float64{40.1, 0}, [2]float64{-40.05, 0}).Places, 1, nil, nil)
	require.NoError(t, err)
	assert.InDelta(t, 0.15, z.Diameter, 1e-5)
}
