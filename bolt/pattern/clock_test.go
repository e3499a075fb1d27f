package pattern

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim/trials"
)

func circles(xy [][2]float64, radius float64) (out []Circle) {
	for _, q := range xy {
		out = append(out, Circle{XY: q, Radius: radius})
	}
	return out
}

// Full rings of n and m holes on one circle of radius R: the angles between neighbours are
// those of the n m differences, a step of 2 pi/lcm(n, m), and the middle of a step is the
// best turn, by arithmetic. The webs there are 2 R sin(pi/(2 lcm)) less both radii.
func TestClockRings(t *testing.T) {
	for _, c := range []struct{ n, m, lcm int }{{6, 6, 6}, {6, 4, 12}, {5, 3, 15}, {4, 8, 8}, {1, 1, 1}} {
		webs, err := Clock(circles(regular(c.n, 42), 3.3), circles(regular(c.m, 42), 2.5))
		require.NoError(t, err)
		assert.Len(t, webs, c.lcm)
		step := math.Pi / float64(c.lcm)
		for _, w := range webs {
			assert.InDelta(t, 84*math.Sin(step/2)-5.8, w.Least, 1e-9)
		}
		assert.InDelta(t, step, webs[0].Turn.Radians(), 1e-9)
	}
}

// Every maximum of a scan over 5,000 turns is found, no other, and none of the scan's
// turns keeps more material.
func TestClockAgainstAScan(t *testing.T) {
	const steps = 5_000
	for trial := range trials.Of(40, 20) {
		rng := rand.New(rand.NewPCG(uint64(trial), 11))
		var parts [2][]Circle
		for k := range parts {
			for range 1 + rng.IntN(6) {
				r := 20 + 25*rng.Float64()
				sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
				parts[k] = append(parts[k], Circle{[2]float64{r * cos, r * sin}, 2 + 3*rng.Float64()})
			}
		}
		if trial%3 == 0 {
			parts[1][0].XY = [2]float64{} // a hole at the centre
		}
		if trial%2 == 0 {
			parts[0] = circles(moved(regular(2+trial%5, 40), 0.3, 0, 0, 0.05, rng), 3)
		}
		webs, err := Clock(parts[0], parts[1])
		require.NoError(t, err)
		scan := make([]float64, steps)
		most := math.Inf(-1)
		for i := range scan {
			scan[i] = leastWeb(parts, float64(i)*2*math.Pi/steps)
			most = max(most, scan[i])
		}
		peaks, flat := 0, false // flat: where the hole at the centre is the nearest
		for i, v := range scan {
			before, after := scan[(i+steps-1)%steps], scan[(i+1)%steps]
			flat = flat || math.Abs(v-after) < 1e-12
			if v <= after || v <= before {
				continue
			}
			peaks++
			near := math.Inf(1)
			for _, w := range webs {
				off := w.Turn.Radians() - float64(i)*2*math.Pi/steps
				near = min(near, math.Abs(math.Remainder(off, 2*math.Pi)))
			}
			assert.Less(t, near, 2*2*math.Pi/steps, "trial %d", trial)
		}
		assert.GreaterOrEqual(t, webs[0].Least, most-1e-9, "trial %d", trial)
		for _, w := range webs {
			assert.InDelta(t, leastWeb(parts, w.Turn.Radians()), w.Least, 1e-9)
			one := [2][]Circle{{parts[0][w.Pair[0]]}, {parts[1][w.Pair[1]]}}
			assert.InDelta(t, leastWeb(one, w.Turn.Radians()), w.Least, 1e-9)
		}
		if !flat {
			assert.Len(t, webs, peaks, "trial %d", trial)
		}
	}
	_, err := Clock(nil, circles(regular(3, 10), 1))
	assert.ErrorContains(t, err, "at least one hole")
}

// leastWeb is the least material between holes of two parts, the second turned.
func leastWeb(parts [2][]Circle, turn float64) float64 {
	least := math.Inf(1)
	for _, q := range parts[1] {
		at := moved([][2]float64{q.XY}, turn, 0, 0, 0, rand.New(rand.NewPCG(1, 1)))[0]
		for _, p := range parts[0] {
			least = min(least, distance(p.XY, at)-p.Radius-q.Radius)
		}
	}
	return least
}
