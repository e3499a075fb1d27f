package fit

import (
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A pair is counted in the bin of its distance, those closer than the first in that.
func TestPairsAreInTheBinOfTheirDistance(t *testing.T) {
	const near, far, bins = 0.5, 20.0, 12
	rng := rand.New(rand.NewPCG(7, 1))
	for _, d := range append([]float64{1e-9, near}, make([]float64, 200)...) {
		if d == 0 {
			d = 1.5 * far * rng.Float64() * rng.Float64()
		}
		c := NewCovariogram(near, far, bins)
		c.Add([]r3.Vector{{}, {X: d}}, []float64{1, -2}, 0, 2, far)
		at := c.Bin(d)
		if d >= far {
			assert.Equal(t, -1, at, d)
			continue
		}
		require.GreaterOrEqual(t, at, 0, d)
		assert.Equal(t, 1.0, c.Bins()[at].Pairs, d)
		assert.Equal(t, -2.0, c.Bins()[at].Mean(), d)
	}
	assert.Zero(t, NewCovariogram(near, far, bins).Bin(0))
}

// A sum of two kernels, worked out by hand, is taken apart, as far as 400 rounds go; what would be negative is
// none of it; and a bin without pairs says nothing.
func TestSharesOfASum(t *testing.T) {
	kernel := [][]float64{{1, 0.5, 0, 7}, {1, 1, 1, 7}, {0, 0, 1, 7}}
	bins := []CovarianceBin{{Pairs: 4, Sum: 4 * 5}, {Pairs: 9, Sum: 9 * 4}, {Pairs: 100, Sum: 100 * 3}, {}}
	assert.InDeltaSlice(t, []float64{2, 3, 0}, shares(bins, kernel), 1e-6)
	for b := range bins {
		bins[b].Sum = -bins[b].Sum
	}
	assert.Equal(t, []float64{0, 0, 0}, shares(bins, kernel))
}
