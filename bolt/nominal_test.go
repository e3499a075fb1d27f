package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func holesAtDegrees(radius float64, deg ...float64) []Hole {
	var xy [][2]float64
	for _, a := range deg {
		sin, cos := math.Sincos((a + 11) * math.Pi / 180)
		xy = append(xy, [2]float64{radius * cos, radius * sin})
	}
	return withSigma(holesAt(xy), 0.01)
}

func TestReadings(t *testing.T) {
	for name, c := range map[string]struct {
		at        []float64
		positions int
		spacing   float64
		full      bool
		missing   []float64
		irregular bool
	}{
		"six":                            {at: []float64{0, 60, 120, 180, 240, 300}, positions: 6, spacing: 60, full: true},
		"three all round":                {at: []float64{0, 120, 240}, positions: 3, spacing: 120, full: true},
		"three of six in a row":          {at: []float64{0, 60, 120}, positions: 3, spacing: 60},
		"the same from the middle one":   {at: []float64{0, 60, 300}, positions: 3, spacing: 60},
		"six, one missing":               {at: []float64{0, 60, 120, 240, 300}, positions: 6, spacing: 60, full: true, missing: []float64{180}},
		"six, two missing":               {at: []float64{0, 60, 180, 240}, positions: 6, spacing: 60, full: true, missing: []float64{120, 300}},
		"four, one missing":              {at: []float64{0, 90, 180}, positions: 4, spacing: 90, full: true, missing: []float64{270}},
		"eight, hole 4 at 135.6":         {at: []float64{0, 45, 90, 135.6, 180, 225, 270, 315}, positions: 8, spacing: 45, full: true},
		"six, hole 4 two degrees off":    {at: []float64{0, 60, 120, 182, 240, 300}, positions: 6, spacing: 60, full: true},
		"row of four at 25":              {at: []float64{0, 25, 50, 75}, positions: 4, spacing: 25},
		"row of five at 45, third lacks": {at: []float64{0, 45, 135, 180}, positions: 5, spacing: 45, missing: []float64{90}},
		"seven":                          {at: []float64{0, 51.43, 102.86, 154.29, 205.71, 257.14, 308.57}, positions: 7, spacing: 360.0 / 7, full: true},
		"no pattern":                     {at: []float64{0, 47, 131, 208, 289}, irregular: true},
		"corners of an oblong":           {at: []float64{0, 67, 180, 247}, irregular: true},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Readings(holesAtDegrees(50, c.at...))
			require.NoError(t, err)
			got := r[0]
			assert.Equal(t, c.irregular, got.Irregular)
			if c.irregular {
				return
			}
			assert.Equal(t, c.positions, got.Positions)
			assert.InDelta(t, c.spacing, got.Spacing.Degrees(), 1e-9)
			assert.Equal(t, c.full, got.FullRing)
			require.Len(t, got.Missing, len(c.missing))
			for i, m := range c.missing {
				assert.InDelta(t, m, got.Missing[i].Degrees(), 1e-9)
			}
			require.Len(t, got.Angles, len(c.at))
			assert.Zero(t, got.Angles[0])
			assert.Greater(t, got.Confidence, 0.6)
			var sum float64
			for _, k := range r {
				sum += k.Confidence
			}
			assert.InDelta(t, 1, sum, 1e-9)
		})
	}
}

// Patterns drilled with a workshop's care (0.2 mm each way) are read right:
// 400 random rings of 3 to 12 holes on 40 to 200 mm, at most one wrong
// reading. At drilling errors of this size the readings' own posterior puts
// wrong ones below 1e-4 each.
func TestReadingsOfRandomRings(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	wrong := 0
	for range 400 {
		n := 3 + rng.IntN(10)
		holes := withSigma(Ideal(n, 40+160*rng.Float64(), s1.Angle(rng.Float64())), 0.02)
		for i := range holes {
			holes[i].Centre.X += 0.2 * rng.NormFloat64()
			holes[i].Centre.Y += 0.2 * rng.NormFloat64()
		}
		r, err := Readings(holes)
		require.NoError(t, err)
		if !r[0].FullRing || r[0].Positions != n || len(r[0].Missing) > 0 {
			wrong++
		}
	}
	assert.LessOrEqual(t, wrong, 1)
}

// Across a missing hole the nominal is a multiple; a partial ring has one
// spacing fewer and does not wrap.
func TestSpacing(t *testing.T) {
	c, err := Clock(holesAtDegrees(50, 0, 60, 120, 240, 300), Nominal{})
	require.NoError(t, err)
	require.Len(t, c.Spacing, 5)
	for i, want := range []float64{60, 60, 120, 60, 60} {
		assert.InDelta(t, want, c.Spacing[i].Nominal.Degrees(), 1e-9)
		assert.InDelta(t, 0, c.Spacing[i].Deviation.Degrees(), 1e-9)
	}
	assert.Equal(t, "H5", c.Spacing[4].From)
	assert.Equal(t, "H1", c.Spacing[4].To)

	c, err = Clock(holesAtDegrees(50, 0, 60, 120), Nominal{})
	require.NoError(t, err)
	require.Len(t, c.Spacing, 2)
	for _, k := range c.Clocking {
		assert.False(t, k.HasOthers, "two others make no circle")
	}
}

func TestWrap(t *testing.T) {
	assert.Equal(t, 0.0, Wrap(s1.Angle(-1e-300)).Radians())
	assert.Equal(t, 0.0, Wrap(s1.Angle(2*math.Pi)).Radians())
	assert.InDelta(t, 350, Wrap(-10*s1.Degree).Degrees(), 1e-12)
	assert.InDelta(t, 10, Wrap(730*s1.Degree).Degrees(), 1e-12)
	assert.InDelta(t, -170*math.Pi/180, wrapHalf(190*math.Pi/180), 1e-12)
}
