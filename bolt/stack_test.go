package bolt

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// ring6 puts six holes on a circle of 60 mm into a disc of 90 by 10 with a bore of 20:
// each is the tools that drill makes at its centre.
func ring6(drill func(name string, at r3.Vector) []*scansim.Solid) *scansim.Part {
	up := r3.Vector{Z: 1}
	tools := []*scansim.Solid{scansim.Drill("bore", r3.Vector{}, up, 20, 0)}
	var holes []scansim.Hole
	for i := range 6 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		at, name := r3.Vector{X: 30 * cos, Y: 30 * sin}, fmt.Sprintf("A%d", i+1)
		tools = append(tools, drill("hole:"+name, at)...)
		holes = append(holes, scansim.Hole{Name: name, Kind: "round", Centre: at, Axis: up, Diameter: 6.6})
	}
	return scansim.NewPart("disc", scansim.Minus(scansim.Disc("mounting", "bottom", "outer", r3.Vector{}, 45, 10), tools...),
		r3.Vector{X: -45, Y: -45, Z: -10}, r3.Vector{X: 45, Y: 45}, holes)
}

// However a hole begins and ends it is one hole, and six of them one circle; what is said
// of it is within 0.25 mm and 5 degrees, some two thirds of the spacing.
func TestOneHole(t *testing.T) {
	up := r3.Vector{Z: 1}
	for name, c := range map[string]struct {
		drill func(name string, at r3.Vector) []*scansim.Solid
		check func(t *testing.T, h Hole)
	}{
		"through": {
			func(name string, at r3.Vector) []*scansim.Solid {
				return []*scansim.Solid{scansim.Drill(name, at, up, 6.6, 0)}
			},
			func(t *testing.T, h Hole) {
				assert.True(t, h.Through)
				assert.Nil(t, h.Counterbore)
				assert.Nil(t, h.Countersink)
			},
		},
		"blind": {
			func(name string, at r3.Vector) []*scansim.Solid {
				return []*scansim.Solid{scansim.Drill(name, at, up, 6.6, 6)}
			},
			func(t *testing.T, h Hole) {
				assert.False(t, h.Through)
				assert.InDelta(t, 6, h.Depth, 0.25)
			},
		},
		"counterbored": {
			func(name string, at r3.Vector) []*scansim.Solid {
				return []*scansim.Solid{scansim.Drill(name, at, up, 6.6, 0), scansim.Drill("wide"+name, at, up, 14, 4)}
			},
			func(t *testing.T, h Hole) {
				require.NotNil(t, h.Counterbore)
				assert.InDelta(t, 14, h.Counterbore.Diameter, 0.25)
				assert.InDelta(t, 4, h.Counterbore.Depth, 0.25)
			},
		},
		"countersunk": {
			func(name string, at r3.Vector) []*scansim.Solid {
				return []*scansim.Solid{scansim.Drill(name, at, up, 6.6, 0), scansim.Sink("sink"+name, at, up, 13, 90*s1.Degree)}
			},
			func(t *testing.T, h Hole) {
				require.NotNil(t, h.Countersink)
				assert.InDelta(t, 13, h.Countersink.Diameter, 0.25)
				assert.InDelta(t, 90, h.Countersink.Angle.Degrees(), 5)
			},
		},
	} {
		if testing.Short() && name != "counterbored" {
			continue // one kind
		}
		t.Run(name, func(t *testing.T) {
			s, truth, err := scansim.Fused(t.Context(), ring6(c.drill), scansim.FusedOptions{Seed: 3, Voxel: 0.5, Noise: 0.02, ShowHidden: name == "through"})
			require.NoError(t, err)
			s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
			require.NoError(t, err)
			seg, err := segment.Segment(t.Context(), s, segment.Options{})
			require.NoError(t, err)
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			if name != "through" { // seen from both sides, either is the mounting face
				_, missed := matched(t, m, truth)
				assert.Empty(t, missed)
			}
			require.Len(t, m.Circles, 1)
			assert.Len(t, m.Circles[0].Holes, 6)
			assert.Len(t, m.Holes, 6)
			for _, h := range m.Holes {
				assert.InDelta(t, 6.6, h.Diameter, 5*h.DiameterU)
				c.check(t, h)
			}
		})
	}
}
