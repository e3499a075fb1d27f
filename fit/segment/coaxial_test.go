package segment_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// Ring faces and the floor of a groove eight voxels wide, between rounded edges, are
// found whole: the axes of the walls beside them are known, and they are fitted away
// from their edges.
func TestNarrowFaces(t *testing.T) {
	s, tr, err := scansim.Fused(t.Context(), scoreTurned(), scansim.FusedOptions{Seed: 11, Voxel: 0.94, Noise: 0.02, ShowHidden: true})
	require.NoError(t, err)
	s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	seg, err := segment.Segment(t.Context(), s, segment.Options{})
	require.NoError(t, err)
	r := scoreOf(s, &tr, seg, 0.5)
	assert.Empty(t, r.missing)
	assert.Greater(t, r.worst, 0.95, "each in one piece")
}
