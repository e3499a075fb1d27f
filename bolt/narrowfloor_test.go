package bolt

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

// The floors of these counterbores are rings 1.8 mm wide, which scanners round away: of each
// hole two walls are seen, of which the narrow one is the hole's.
func TestCounterboreWithoutItsFloor(t *testing.T) {
	up := r3.Vector{Z: 1}
	tools := []*scansim.Solid{scansim.Drill("bore", r3.Vector{}, up, 20, 0)}
	var holes []scansim.Hole
	for i := range 4 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 2)
		at, name := r3.Vector{X: 26 * cos, Y: 26 * sin}, fmt.Sprintf("A%d", i+1)
		tools = append(tools, scansim.Drill("wide:"+name, at, up, 10.6, 5), scansim.Drill("hole:"+name, at, up, 7, 0))
		holes = append(holes, scansim.Hole{Name: name, Kind: "round", Centre: at, Axis: up, Diameter: 7})
	}
	part := scansim.NewPart("disc", scansim.Minus(scansim.Disc("mounting", "bottom", "outer", r3.Vector{}, 36, 10), tools...),
		r3.Vector{X: -36, Y: -36, Z: -10}, r3.Vector{X: 36, Y: 36}, holes)
	s, seg, truth := found(t, part, scansim.FusedOptions{Seed: 3, Voxel: 0.6, Noise: 0.01})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	_, missed := matched(t, m, truth)
	assert.Empty(t, missed)
	assert.Len(t, m.Holes, 4)
	for _, h := range m.Holes {
		assert.InDelta(t, 7, h.Diameter, 4*h.DiameterU)
		require.NotNil(t, h.Counterbore, h.ID)
		assert.InDelta(t, 10.6, h.Counterbore.Diameter, 0.25)
		assert.InDelta(t, 5, h.Counterbore.Depth, 0.5)
	}
}

// Shallow spot faces, rounded by smoothing, bend the face around them: a third of its border
// goes on smoothly, and it is a face all the same.
func TestFaceAmongSpotFaces(t *testing.T) {
	up := r3.Vector{Z: 1}
	tools := []*scansim.Solid{scansim.Drill("bore", r3.Vector{}, up, 26, 0)}
	var holes []scansim.Hole
	for i := range 6 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		at, name := r3.Vector{X: 31 * cos, Y: 31 * sin}, fmt.Sprintf("A%d", i+1)
		tools = append(tools, scansim.Drill("spot:"+name, at, up, 11.7, 0.8), scansim.Drill("hole:"+name, at, up, 5.6, 0))
		holes = append(holes, scansim.Hole{Name: name, Kind: "round", Centre: at, Axis: up, Diameter: 5.6})
	}
	part := scansim.NewPart("disc", scansim.Minus(scansim.Disc("mounting", "bottom", "outer", r3.Vector{}, 43, 8), tools...),
		r3.Vector{X: -43, Y: -43, Z: -8}, r3.Vector{X: 43, Y: 43}, holes)
	s, seg, truth := found(t, part, scansim.FusedOptions{Seed: 11, Voxel: 0.6, Noise: 0.007, Smooth: 1.2})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	_, missed := matched(t, m, truth)
	assert.Empty(t, missed)
	require.Len(t, m.Circles, 1)
	assert.Len(t, m.Circles[0].Holes, 6)
}
