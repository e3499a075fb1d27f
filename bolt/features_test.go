package bolt

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt/pattern"
	"spotface/mesh/scansim"
)

// Six positions of a ring, two of them slots, are one bolt circle.
func TestSlotsOfABoltCircle(t *testing.T) {
	e := scansim.Extras{}
	for i := range 6 {
		a := s1.Angle(20+60*i) * s1.Degree
		x, y := 35*math.Cos(a.Radians()), 35*math.Sin(a.Radians())
		if i%3 == 1 {
			e.Slots = append(e.Slots, scansim.SlotSpec{X: x, Y: y, Width: 6.6, Length: 12, Angle: a + 90*s1.Degree})
		} else {
			e.Holes = append(e.Holes, scansim.HoleSpec{X: x, Y: y, Diameter: 6.6})
		}
	}
	s, seg, truth := simulate(t, scansim.Plate(scansim.PlateSpec{Length: 90, Width: 90, Thickness: 5, Extras: e}),
		scansim.FusedOptions{Seed: 4, Voxel: 0.74, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	matched(t, m, truth)
	require.Len(t, m.Circles, 1)
	c := m.Circles[0]
	assert.Equal(t, 6, c.Nominal.Positions)
	assert.True(t, c.Nominal.Full)
	assert.InDelta(t, 70, c.PitchDiameter, 4*c.PitchU)
	slots := 0
	for _, h := range m.Holes {
		if h.Kind == Slot {
			slots++
		}
	}
	assert.Equal(t, 2, slots)
	assert.Empty(t, m.Patterns)
	for _, k := range c.Clocking {
		assert.Less(t, math.Abs(k.Deviation.Degrees()), 5*k.U.Degrees())
	}
}

// Holes in spot faces at several heights are one ring, and a hole seen through two walls
// counts once.
func TestPatternOnSeveralFaces(t *testing.T) {
	var all []*candidate
	hole := func(x, y, z, r float64) {
		fc := &face{flat: newFlat(r3.Vector{Z: z}, r3.Vector{Z: 1}), area: 400}
		at := fc.flat.xy(r3.Vector{X: x, Y: y, Z: z})
		all = append(all, &candidate{face: fc, x: at[0], y: at[1], r: r, from: Wall,
			cov: [3][3]float64{{1e-4}, {0, 1e-4}, {0, 0, 1e-4}}})
	}
	for i := range 6 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 3)
		hole(40*cos, 40*sin, 3*float64(i), 4)
	}
	hole(40, 0, -5, 3)
	found, err := (&finder{}).patterns(all)
	require.NoError(t, err)
	require.Len(t, found, 1)
	assert.Equal(t, pattern.Ring, found[0].Kind)
	assert.Len(t, found[0].features, 6)
	assert.InDelta(t, 40, found[0].radius, 1e-9)
}

// A rectangle and a grid are patterns, no bolt circles; a square is both.
func TestRectangleGridAndSquare(t *testing.T) {
	for name, c := range map[string]struct {
		columns, rows  int
		a, b           float64
		circles, grids int
		kind           pattern.Kind
	}{
		"rectangle": {2, 2, 60, 40, 0, 1, pattern.Rectangle},
		"square":    {2, 2, 45, 45, 1, 1, pattern.Rectangle},
		"grid":      {3, 3, 30, 30, 2, 1, pattern.Grid},
		"line":      {4, 1, 22, 0, 0, 1, pattern.Line},
	} {
		t.Run(name, func(t *testing.T) {
			e := scansim.Extras{}
			for j := range c.rows {
				for i := range c.columns {
					e.Holes = append(e.Holes, scansim.HoleSpec{Diameter: 6,
						X: c.a * (float64(i) - float64(c.columns-1)/2), Y: c.b * (float64(j) - float64(c.rows-1)/2)})
				}
			}
			s, seg, truth := simulate(t, scansim.Plate(scansim.PlateSpec{Length: c.a*float64(c.columns-1) + 20, Width: c.b*float64(c.rows-1) + 20, Thickness: 4, Extras: e}),
				scansim.FusedOptions{Seed: 5, Voxel: 0.81, Noise: 0.02})
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			matched(t, m, truth)
			require.Len(t, m.Circles, c.circles)
			require.Len(t, m.Patterns, c.grids)
			p := m.Patterns[0]
			assert.Equal(t, c.kind, p.Kind)
			assert.Len(t, p.Holes, c.rows*c.columns)
			pitch, u := p.Pitch, p.PitchU
			if c.a != c.b && c.rows > 1 && math.Abs(pitch[0]-c.a) > 5 {
				pitch[0], pitch[1], u[0], u[1] = pitch[1], pitch[0], u[1], u[0]
			}
			assert.InDelta(t, c.a, pitch[0], 4*u[0])
			assert.InDelta(t, c.b, pitch[1], 4*u[1])
			for _, d := range p.Deviations {
				assert.Less(t, math.Hypot(d.XY[0], d.XY[1]), 5*math.Sqrt(d.Cov[0][0]+d.Cov[1][1]))
			}
			for _, k := range m.Circles {
				assert.Equal(t, c.kind == pattern.Grid, k.Also == p.ID)
			}
			assert.Equal(t, name == "square", p.Also == "B1")
		})
	}
}
