package bolt_test

import (
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// A cast flange whose bore and outside have a draft of 1.5 degrees is measured as one
// without: the bore, a cone by its shape, is the frame's axis, and its middle diameter is
// within the taper. (Draft angles of castings: common practice, no source.)
func TestBoreWithADraft(t *testing.T) {
	part := scansim.Flange(scansim.FlangeSpec{Bore: 40, Thickness: 10, Draft: 1.5 * s1.Degree})
	s, tr, err := scansim.Fused(t.Context(), part, scansim.FusedOptions{Seed: 1, Voxel: 1, Noise: 0.02})
	require.NoError(t, err)
	s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	seg, err := segment.Segment(t.Context(), s, segment.Options{})
	require.NoError(t, err)
	require.NotEmpty(t, seg.Cones(), "the bore is a cone")
	m, err := bolt.Measure(t.Context(), s, seg, bolt.Options{})
	require.NoError(t, err)
	require.NotNil(t, m.Bore)
	assert.Equal(t, m.Bore.ID, m.Frame.Axis)
	assert.InDelta(t, 40, m.Bore.Diameter, 0.6, "0.52 mm of taper over its length")
	require.Len(t, m.Circles, 1)
	assert.Len(t, m.Circles[0].Holes, 6)
	assert.Less(t, m.Bore.Centre.Distance(tr.Patterns[0].Centre), 0.02)
}
