package bolt

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

// Of the second hole of a ring 45 degrees are left of a gap that reaches 4 mm out over the
// face: by itself it is not found. Where nothing of it is left, or where there is none, none
// is invented.
func TestHoleByItsPattern(t *testing.T) {
	spec := scansim.FlangeSpec{Diameter: 60, Thickness: 5, Bore: 16, PitchDiameter: 42, HoleDiameter: 7, Holes: 6}
	solid := spec
	solid.Missing = []int{1}
	for _, c := range []struct {
		name  string
		spec  scansim.FlangeSpec
		shown s1.Angle
		holes int
	}{
		{"a piece of its wall", spec, 45 * s1.Degree, 6},
		{"nothing of it", spec, 0, 5},
		{"no hole, and a gap", solid, 45 * s1.Degree, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			at := r3.Vector{X: 21 * math.Cos(math.Pi/3), Y: 21 * math.Sin(math.Pi/3)}
			s, seg, truth := simulate(t, scansim.Flange(c.spec), scansim.FusedOptions{Seed: 2, Voxel: 0.5, Noise: 0.02, InPlace: true,
				Drop: func(p r3.Vector) bool {
					v := p.Sub(at)
					return math.Hypot(v.X, v.Y) < 7.5 && math.Abs(math.Atan2(v.Y, v.X)) > c.shown.Radians()/2
				}})
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			require.Len(t, m.Holes, c.holes)
			require.Len(t, m.Circles, 1)
			for _, h := range m.Holes {
				own := h.Centre.Distance(at) < 1
				assert.Equal(t, own, h.ByPattern)
				if own {
					assert.InDelta(t, 45, h.Arc.Degrees(), 15)
					off := h.Centre.Sub(truth.Holes[1].Centre)
					u := math.Sqrt(h.CentreCov[0][0] + h.CentreCov[1][1])
					t.Logf("off by %.4f mm, u %.4f", off.Norm(), u)
					assert.Less(t, off.Norm(), 3.5*u)
					assert.Less(t, u, 0.1)
				}
			}
		})
	}
}

// So it is in a grid.
func TestHoleByItsGrid(t *testing.T) {
	var e scansim.Extras
	for i := range 6 {
		e.Holes = append(e.Holes, scansim.HoleSpec{X: 24 * float64(i%3-1), Y: 30*float64(i/3) - 15, Diameter: 7})
	}
	at := r3.Vector{X: 24, Y: 15}
	s, seg, _ := simulate(t, scansim.Plate(scansim.PlateSpec{Length: 70, Width: 50, Thickness: 5, Extras: e}),
		scansim.FusedOptions{Seed: 2, Voxel: 0.6, Noise: 0.02, InPlace: true, Drop: func(p r3.Vector) bool {
			v := p.Sub(at)
			return math.Hypot(v.X, v.Y) < 7.5 && math.Abs(math.Atan2(v.Y, v.X)) > math.Pi/8
		}})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	require.Len(t, m.Holes, 6)
	require.Len(t, m.Patterns, 1)
	for _, h := range m.Holes {
		off := h.Centre.Sub(at)
		assert.Equal(t, off.Norm() < 1, h.ByPattern)
		if h.ByPattern {
			assert.Less(t, off.Norm(), 3.5*math.Sqrt(h.CentreCov[0][0]+h.CentreCov[1][1]))
		}
	}
}
