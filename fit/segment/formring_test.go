package segment_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// formOfBowedRing asks of a ring whose mounting face is a saddle 0.37 mm deep and whose rim
// is oval by 0.20 mm for one face, one rim and the form of the simulator's truth, which knows
// of no scan. With no form allowed the face is none, or strips.
func formOfBowedRing(t *testing.T, p *scansim.Part, s *mesh.Scan,
	truth *scansim.Truth, seg *segment.Segmentation) {
	require.NotEmpty(t, seg.Planes())
	require.NotEmpty(t, seg.Cylinders())
	face := len(seg.Planes()[0].Points)
	assert.Greater(t, face, s.Len()/4)
	largest := map[scansim.Shape]float64{}
	for _, f := range truth.Faces {
		if f.Role != "mounting" && f.Role != "outer" {
			continue
		}
		_, rms := formOf(t, p, truth, f)
		largest[f.Shape] = max(largest[f.Shape], rms)
	}
	saddle, rim := seg.Planes()[0].Form, seg.Cylinders()[0].Form
	assert.Equal(t, segment.Saddle, saddle.Kind)
	assert.InEpsilon(t, largest[scansim.Plane], saddle.RMS, 0.1)
	assert.InEpsilon(t, 91, saddle.Length, 0.05) // diameter less chamfers
	assert.Equal(t, segment.Oval, rim.Kind)
	assert.InEpsilon(t, largest[scansim.Cylinder], rim.RMS, 0.1)
	for _, c := range seg.Cylinders()[1:] {
		assert.Empty(t, c.Form, c.ID)
	}

	none := segmentOf(t, s, segment.Options{Form: 0.001})
	if len(none.Planes()) > 0 {
		assert.Less(t, len(none.Planes()[0].Points), face/2)
	}
}
