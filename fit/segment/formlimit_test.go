package segment

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

// bowed returns a ring whose mounting face is a saddle 0.37 mm deep and whose rim is
// oval, and which kind of part it is.
func bowed(t *testing.T) (s *mesh.Scan, truth scansim.Truth) {
	t.Helper()
	for _, k := range scansim.FormKinds() {
		if k.Name == "bowed ring" {
			k.Fused.Voxel = 0.9 // mm, a quarter of the points
			s, truth, err := k.Mesh(t.Context(), 1)
			require.NoError(t, err)
			s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
			require.NoError(t, err)
			return s, truth
		}
	}
	t.Fatal("no bowed ring")
	return nil, scansim.Truth{}
}

// A face bowed by many times the noise is one surface. With no form allowed it is none
// or strips.
func TestFormLimit(t *testing.T) {
	s, _ := bowed(t)
	largest := func(form float64) float64 {
		seg, err := Segment(t.Context(), s, Options{Form: form})
		require.NoError(t, err)
		if len(seg.Planes) == 0 {
			return 0
		}
		return float64(len(seg.Planes[0].Points)) / float64(s.Len())
	}
	free := largest(0)
	assert.Greater(t, free, 0.25, "share of the scan that is on the bowed face")
	assert.Less(t, largest(0.001), free/2)
}
