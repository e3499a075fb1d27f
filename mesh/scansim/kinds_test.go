package scansim

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPracticeKinds(t *testing.T) {
	count := func(truth Truth, role string) int {
		for _, f := range truth.Faces {
			if f.Role == role {
				return truth.Count[f.ID]
			}
		}
		return -1
	}
	kind := func(name string) Kind {
		k, ok := KindNamed(PracticeKinds(), name)
		require.True(t, ok, name)
		k.Fused.Voxel *= 1.7
		return k
	}
	partial := kind("partial ring")
	partial.Fused.Voxel = 1.6
	_, truth, err := partial.Mesh(t.Context(), 1)
	require.NoError(t, err)
	assert.Greater(t, count(truth, "turntable"), count(truth, "mounting"))
	assert.Len(t, truth.Holes, 4)

	_, truth, err = kind("sheet ring").Mesh(t.Context(), 1)
	require.NoError(t, err)
	assert.Zero(t, count(truth, "hole:A1"))
	assert.Zero(t, count(truth, "bore"))

	k := kind("hub flange, cloud")
	k.Cloud.Points /= 5
	_, truth, err = k.Points(t.Context(), 1)
	require.NoError(t, err)
	assert.Greater(t, 4*count(truth, "chamfer"), count(truth, "outer"))

	_, truth, err = kind("hub flange, holes off").Mesh(t.Context(), 1)
	require.NoError(t, err)
	assert.InDelta(t, 0.4, truth.Patterns[0].Deviation[2].Degrees(), 1e-9)

	p := kind("bowed five").Part(1)
	// The saddle reaches ±0.19 mm at the rim, which the chamfer cuts off 0.7 mm
	// short of the radius of 52.3 mm.
	assert.InDelta(t, 0.38*51.6*51.6/(52.3*52.3), p.Form(p.FaceNamed("mounting").ID).Zone, 0.003)
	assert.InDelta(t, 0.2, p.Form(p.FaceNamed("outer").ID).Zone, 0.001)
}
