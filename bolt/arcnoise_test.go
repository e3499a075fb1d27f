package bolt

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lobed draws a rim of the radius with the noise of coverSigma, and three lobes of the
// height given.
func lobed(t *testing.T, rng *rand.Rand, radius, lobes float64) *candidate {
	w, err := newNoisyWall(wallSpec{Radius: radius, Around: 200, Sigma: coverSigma,
		Kernel: noiseKernel{Length: coverRadius / 4}})
	require.NoError(t, err)
	var xy [][2]float64
	for _, q := range w.Draw(rng) {
		f := 1 + lobes/radius*math.Cos(3*math.Atan2(q.Y, q.X))
		xy = append(xy, [2]float64{f * q.X, f * q.Y})
	}
	return firstFound(t, xy, nil)
}

// The lobes of a bore are no noise of the holes about it, and those of one worn hole are
// its own: the uncertainties of the sound holes are the same with and without.
func TestFormOfOneIsNoNoiseOfOthers(t *testing.T) {
	own := func(bore, worn float64) (sound, off float64) {
		rng := rand.New(rand.NewPCG(8, 15))
		var cs []*candidate
		for range 5 {
			cs = append(cs, lobed(t, rng, coverRadius, 0))
		}
		if worn > 0 {
			cs = append(cs, lobed(t, rng, coverRadius, worn))
		}
		if bore > 0 {
			cs = append(cs, lobed(t, rng, 3*coverRadius, bore))
		}
		all := slices.Clone(cs)
		require.NoError(t, weighAlike(t.Context(), cs, faceNoise{}, 1))
		for _, c := range all {
			require.False(t, c.dropped)
		}
		return math.Sqrt(all[0].cov[0][0]), math.Sqrt(all[len(all)-1].cov[0][0])
	}
	alone, _ := own(0, 0)
	besideBore, bore := own(0.3, 0)
	assert.InEpsilon(t, alone, besideBore, 1e-9)
	besideWorn, worn := own(0, 0.3)
	assert.InEpsilon(t, alone, besideWorn, 1e-9)
	assert.Greater(t, bore, 2*alone)
	assert.Greater(t, worn, 2*alone)
}
