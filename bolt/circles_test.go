package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim/trials"
)

func spotsAt(r float64, xy ...[2]float64) []spot {
	var out []spot
	for _, p := range xy {
		out = append(out, spot{x: p[0], y: p[1], r: r, vr: 1e-5, cov: [2][2]float64{{1e-5, 0}, {0, 1e-5}}})
	}
	return out
}

func ringAt(x, y, radius float64, n int, first float64) [][2]float64 {
	var out [][2]float64
	for i := range n {
		sin, cos := math.Sincos(first + 2*math.Pi*float64(i)/float64(n))
		out = append(out, [2]float64{x + radius*cos, y + radius*sin})
	}
	return out
}

// A board with 3 x 3 holes: corners make one circle, mid-edges another, the
// middle stays single.
func TestCirclesOfABoard(t *testing.T) {
	var xy [][2]float64
	for i := range 3 {
		for j := range 3 {
			xy = append(xy, [2]float64{40 * float64(i), 40 * float64(j)})
		}
	}
	got := findCircles(spotsAt(3, xy...))
	require.Len(t, got, 2)
	assert.Equal(t, []int{0, 2, 6, 8}, got[0].member)
	assert.Equal(t, []int{1, 3, 5, 7}, got[1].member)
	for _, c := range got {
		assert.Equal(t, 4, c.nominal.Positions)
		assert.True(t, c.nominal.FullRing)
	}
}

func TestCirclesConcentric(t *testing.T) {
	s := spotsAt(3, ringAt(5, 5, 40, 6, 0.1)...)
	s = append(s, spotsAt(3, ringAt(5, 5, 60, 8, 0.2)...)...)
	s = append(s, spotsAt(4.5, ringAt(5, 5, 50, 4, 0.7)...)...)
	s = append(s, spotsAt(3, [2]float64{70, 71}, [2]float64{-20, 33})...)
	got := findCircles(s)
	require.Len(t, got, 3)
	assert.Equal(t, []int{8, 6, 4}, []int{got[0].nominal.Positions, got[1].nominal.Positions, got[2].nominal.Positions})
	assert.InDelta(t, 60, got[0].r, 1e-9)
}

// Holes of one size put anywhere on a plate: no bolt circle but on one plate in fifty, the
// program's own bound. False-alarm rate: 1e-4.
func TestCirclesNotInvented(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	n := trials.Of(60, 15)
	plates := 0
	for range n {
		var xy [][2]float64
		for range 3 + rng.IntN(6) {
			xy = append(xy, [2]float64{150 * rng.Float64(), 150 * rng.Float64()})
		}
		if len(findCircles(spotsAt(3, xy...))) > 0 {
			plates++
		}
	}
	assert.LessOrEqual(t, plates, trials.Most(n, 0.02, 1e-4))
}
