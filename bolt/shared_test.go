package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim/trials"
)

// arcCandidates simulates holes of one radius about the origin, each seen over
// its own arc, with white noise.
func arcCandidates(t *testing.T, rng *rand.Rand, sigma float64, radii []float64, arcs ...float64) []*candidate {
	t.Helper()
	var out []*candidate
	for k, arc := range arcs {
		from := 2 * math.Pi * rng.Float64()
		var xy [][2]float64
		for range 400 {
			sin, cos := math.Sincos(from + arc*math.Pi/180*rng.Float64())
			r := radii[k] + sigma*rng.NormFloat64()
			xy = append(xy, [2]float64{r * cos, r * sin})
		}
		out = append(out, firstFound(t, xy, nil))
	}
	require.NoError(t, weighAlike(t.Context(), out, faceNoise{}, 1))
	return out
}

// Two half-seen holes beside two whole ones: sharing the radius brings their
// centres' error down, and what is stated follows. For 220 degrees of arc the
// covariance of a circle on an arc (formulas.json, "circle-fit-covariance-arc")
// gives N/σ² times 5.66 + 1.71 for the centre alone, 2.40 + 1.71 with the radius
// known, and 4.69 with the radius known as well as the three others tell it: a
// ratio of 0.80 in RMS. The ratio of paired errors of one part scatters by
// 0.35. False-alarm rate: 1e-3.
func TestSharedRadiusHelpsHalfSeenHoles(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 8))
	parts := trials.Of(100, 20)
	var alone, together, stated float64
	for range parts {
		cs := arcCandidates(t, rng, 0.3, []float64{3.6, 3.6, 3.6, 3.6}, 220, 235, 350, 360)
		for _, c := range cs[:2] {
			alone += c.x*c.x + c.y*c.y
		}
		shareRadius(cs, 1)
		for _, c := range cs[:2] {
			together += c.x*c.x + c.y*c.y
			stated += c.cov[0][0] + c.cov[1][1]
			assert.Equal(t, 1, c.shared)
		}
	}
	assert.Less(t, math.Sqrt(together/alone), 0.80+0.35*trials.Mean(parts, 2e-3))
	assert.Less(t, together, 1.2*stated, "not better than it says")
	assert.Greater(t, together, 0.3*stated, "nor far worse")
}

// Holes that differ keep their own radius.
func TestSharedRadiusOfUnlikeHoles(t *testing.T) {
	cs := arcCandidates(t, rand.New(rand.NewPCG(3, 8)), 0.01, []float64{3.6, 3.5, 3.6, 3.7}, 360, 360, 360, 360)
	shareRadius(cs, 1)
	for i, r := range []float64{3.6, 3.5, 3.6, 3.7} {
		assert.InDelta(t, r, cs[i].r, 0.01)
	}
}
