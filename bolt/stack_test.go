package bolt

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

// However a hole begins and ends it is one hole, and all of them one circle: two each that
// go through, are blind, counterbored and countersunk. What is said of them is within
// 0.25 mm and 5 degrees, some two thirds of the spacing.
func TestOneHole(t *testing.T) {
	up := r3.Vector{Z: 1}
	tools := []*scansim.Solid{scansim.Drill("bore", r3.Vector{}, up, 20, 0)}
	var holes []scansim.Hole
	for i := range 8 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 4)
		at, name := r3.Vector{X: 26 * cos, Y: 26 * sin}, fmt.Sprintf("A%d", i+1)
		depth := 0.0
		switch i % 4 {
		case 1:
			depth = 6
		case 2:
			tools = append(tools, scansim.Drill("wide:"+name, at, up, 14, 4))
		case 3:
			tools = append(tools, scansim.Sink("sink:"+name, at, up, 13, 90*s1.Degree))
		}
		tools = append(tools, scansim.Drill("hole:"+name, at, up, 6.6, depth))
		holes = append(holes, scansim.Hole{Name: name, Kind: "round", Centre: at, Axis: up, Diameter: 6.6})
	}
	part := scansim.NewPart("disc", scansim.Minus(scansim.Disc("mounting", "bottom", "outer", r3.Vector{}, 36, 9), tools...),
		r3.Vector{X: -36, Y: -36, Z: -9}, r3.Vector{X: 36, Y: 36}, holes)
	s, seg, truth := found(t, part, scansim.FusedOptions{Seed: 3, Voxel: 0.55, Noise: 0.02, ShowHidden: true})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	byID, missed := matched(t, m, truth)
	assert.Empty(t, missed)
	require.Len(t, m.Circles, 1)
	assert.Len(t, m.Circles[0].Holes, 8)
	assert.Len(t, m.Holes, 8)
	for _, h := range m.Holes {
		name := byID[h.ID].Name
		kind := (name[1] - '1') % 4
		assert.InDelta(t, 6.6, h.Diameter, 5*h.DiameterU, name)
		assert.Equal(t, kind == 2, h.Counterbore != nil, name)
		assert.Equal(t, kind == 3, h.Countersink != nil, name)
		if kind == 1 {
			assert.False(t, h.Through, name)
			assert.InDelta(t, 6, h.Depth, 0.25, name)
		} else {
			assert.True(t, h.Through, name)
		}
		if b := h.Counterbore; b != nil {
			assert.InDelta(t, 14, b.Diameter, 0.25)
			assert.InDelta(t, 4, b.Depth, 0.25)
		}
		if k := h.Countersink; k != nil {
			assert.InDelta(t, 13, k.Diameter, 0.25)
			assert.InDelta(t, 90, k.Angle.Degrees(), 5)
		}
	}
}
