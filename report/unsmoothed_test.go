package report_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
	"spotface/report"
)

// Fusing over 0.3 mm moves the wall of a bore of 13 mm inward by 0.007 mm (second
// order, w²/2r), and its diameter reads 0.014 mm small, as the rims of the holes beside
// it let see. In scans of little noise a bore's diameter scatters by 0.002 mm.
// False-alarm rate: 1e-3.
func TestBoreOfAFusedScanIsNotSmall(t *testing.T) {
	const bore = 13.0
	const parts = 1 // its bound is half the error
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 38, Thickness: 5, Bore: bore, PitchDiameter: 29, HoleDiameter: 5, Holes: 6})
	sum, n := 0.0, 0
	for seed := range uint64(parts) {
		s, _, err := scansim.Fused(t.Context(), p, scansim.FusedOptions{Seed: 40 + seed, Voxel: 0.3, Noise: 0.005})
		require.NoError(t, err)
		rep, err := report.Measure(t.Context(), s, report.MeasureOptions{})
		require.NoError(t, err)
		for _, c := range rep.Cylinders {
			if off := c.Diameter - bore; math.Abs(off) < 0.5 && c.Length > 3 { // not a piece of its rim
				sum += off
				n++
				assert.Less(t, math.Abs(off), 1.5*c.Uncertainty.Diameter)
			}
		}
	}
	t.Logf("mean error of %d bores: %.4f mm", n, sum/float64(n))
	assert.Equal(t, parts, n)
	assert.Less(t, math.Abs(sum)/float64(n), trials.Mean(parts, 1e-3)*0.002)
}
