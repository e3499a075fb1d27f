package segment

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// The walls of a disc of 5 mm, ten points high between two rounded edges, are found.
//
// None of 40 scans lacked one. The bound is passed, if one of 40 does, in all but 1 of
// 1,000 runs.
func TestThinWalls(t *testing.T) {
	scans := max(2, trials.Draws(2, 40))
	most := trials.Most(scans, 1.0/40, trials.Rate)
	lacking := 0
	for seed := range uint64(scans) {
		part := scansim.Flange(scansim.FlangeSpec{Diameter: 40, Thickness: 5, Bore: 20, Holes: -1})
		s, _, err := scansim.Fused(t.Context(), part, scansim.FusedOptions{Seed: 70 + seed, Voxel: 0.5, Noise: 0.02})
		require.NoError(t, err)
		s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
		seg, err := Segment(t.Context(), s, Options{})
		require.NoError(t, err)
		bore, outer := false, false
		for _, c := range seg.Cylinders() {
			bore = bore || c.Internal && math.Abs(c.Radius-10) < 0.1
			outer = outer || !c.Internal && math.Abs(c.Radius-20) < 0.1
		}
		if !bore || !outer {
			lacking++
		}
	}
	t.Logf("%d of %d scans lack a wall", lacking, scans)
	assert.LessOrEqual(t, lacking, most)
}
