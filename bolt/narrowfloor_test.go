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

// sunkHoles returns a disc with a bore and n holes of a diameter, each in a wider one of a depth.
func sunkHoles(radius, thick, bore, pitch float64, n int, d, wide, depth float64) *scansim.Part {
	up := r3.Vector{Z: 1}
	tools := []*scansim.Solid{scansim.Drill("bore", r3.Vector{}, up, bore, 0)}
	var holes []scansim.Hole
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		at, name := r3.Vector{X: pitch / 2 * cos, Y: pitch / 2 * sin}, fmt.Sprintf("A%d", i+1)
		tools = append(tools, scansim.Drill("wide:"+name, at, up, wide, depth), scansim.Drill("hole:"+name, at, up, d, 0))
		holes = append(holes, scansim.Hole{Name: name, Kind: "round", Centre: at, Axis: up, Diameter: d})
	}
	disc := scansim.Disc("mounting", "bottom", "outer", r3.Vector{}, radius, thick)
	return scansim.NewPart("disc", scansim.Minus(disc, tools...), r3.Vector{X: -radius, Y: -radius, Z: -thick},
		r3.Vector{X: radius, Y: radius}, holes)
}

// The floors of these counterbores are rings 1.8 mm wide, which scanners round away: of each
// hole two walls are seen, of which the narrow one is the hole's.
func TestCounterboreWithoutItsFloor(t *testing.T) {
	part := sunkHoles(36, 10, 20, 52, 4, 7, 10.6, 5)
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
	part := sunkHoles(43, 8, 26, 62, 6, 5.6, 11.7, 0.8)
	s, seg, truth := found(t, part, scansim.FusedOptions{Seed: 11, Voxel: 0.6, Noise: 0.007, Smooth: 1.2})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	_, missed := matched(t, m, truth)
	assert.Empty(t, missed)
	require.Len(t, m.Circles, 1)
	assert.Len(t, m.Circles[0].Holes, 6)
}
