package pattern

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/geom"
)

func TestReadings(t *testing.T) {
	for name, c := range map[string]struct {
		at        []float64
		positions int
		spacing   float64
		full      bool
		missing   []float64
		irregular bool
		offset    []int
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
		"six, hole 2 at 70":              {at: []float64{0, 70, 120, 180, 240, 300}, positions: 6, spacing: 60, full: true, offset: []int{1}},
		"the same from it":               {at: []float64{0, 50, 110, 170, 230, 290}, positions: 6, spacing: 60, full: true, offset: []int{0}},
		"row of four at 25":              {at: []float64{0, 25, 50, 75}, positions: 4, spacing: 25},
		"row of five at 45, third lacks": {at: []float64{0, 45, 135, 180}, positions: 5, spacing: 45, missing: []float64{90}},
		"seven":                          {at: []float64{0, 51.43, 102.86, 154.29, 205.71, 257.14, 308.57}, positions: 7, spacing: 360.0 / 7, full: true},
		"45, 45, 90":                     {at: []float64{0, 45, 90, 180, 225, 270}, positions: 8, spacing: 45, full: true, missing: []float64{135, 315}},
		"no pattern":                     {at: []float64{0, 47, 131, 208, 289}, irregular: true},
		"corners of an oblong":           {at: []float64{0, 67, 180, 247}, irregular: true},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Readings(features(0.01, 6, onRing(3, 4, 50, c.at...)...).Places)
			require.NoError(t, err)
			got := r[0]
			assert.Equal(t, c.irregular, got.Kind == Irregular)
			if c.irregular {
				return
			}
			assert.Equal(t, c.positions, got.Positions)
			assert.InDelta(t, c.spacing, got.Step.Degrees(), 1e-9)
			assert.Equal(t, c.full, got.Full)
			assert.Equal(t, c.offset, got.Offset)
			require.Len(t, got.Missing, len(c.missing))
			for i, m := range c.missing {
				assert.InDelta(t, m, got.Missing[i].Degrees(), 1e-9)
			}
			require.Len(t, got.Angles, len(c.at))
			assert.Zero(t, got.Angles[0])
			if c.offset != nil {
				for i, a := range got.Angles {
					assert.InDelta(t, c.at[i], a.Degrees(), 1e-9)
				}
			}
			assert.Greater(t, got.Probability, 0.6)
			var sum float64
			for _, k := range r {
				sum += k.Probability
			}
			assert.InDelta(t, 1, sum, 1e-9)
		})
	}
}

// Patterns drilled with a workshop's care (0.2 mm each way) are read right: 200 random
// rings of 3 to 12 holes on 40 to 200 mm, at most one wrong reading. At drilling errors
// of this size the readings' own posterior puts wrong ones below 1e-4 each.
func TestReadingsOfRandomRings(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	wrong := 0
	for range 200 {
		n := 3 + rng.IntN(10)
		xy := onRing(0, 0, 20+80*rng.Float64(), steps(n, 90*rng.Float64())...)
		for i := range xy {
			xy[i][0] += 0.2 * rng.NormFloat64()
			xy[i][1] += 0.2 * rng.NormFloat64()
		}
		r, err := Readings(features(0.02, 6, xy...).Places)
		require.NoError(t, err)
		if !r[0].Full || r[0].Positions != n || len(r[0].Missing) > 0 {
			wrong++
		}
	}
	assert.LessOrEqual(t, wrong, 1)
}

// Machinery's Handbook, 31st ed., p. 711: circles of 3 to 12 holes, and pp. 709-710, worked
// ones of five (testdata/README.md). All are named as rings, by the search, too.
func TestHandbookCircles(t *testing.T) {
	read := func(name string, into any) {
		b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "bolt", name))
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(b, into))
	}
	full := func(n int, xy [][2]float64) {
		found := Search(features(0.001, 0.05, xy...))
		require.NotEmpty(t, found, "%d holes", n)
		assert.Equal(t, Ring, found[0].Kind)
		assert.Equal(t, n, found[0].Positions)
		assert.Len(t, found[0].Members, n)
		r, err := Readings(features(0.001, 0.05, xy...).Places)
		require.NoError(t, err)
		assert.True(t, r[0].Full && r[0].Positions == n && len(r[0].Missing) == 0)
		assert.Greater(t, r[0].Probability, 0.9, "%d holes", n)
	}
	var table struct {
		Rows []struct {
			N     int
			Holes [][2]string `json:"holes_unit_diameter"`
		}
	}
	read("bolt-circle-factors-3-12.json", &table)
	require.Len(t, table.Rows, 10)
	for _, row := range table.Rows {
		var xy [][2]float64
		for _, p := range row.Holes {
			x, err1 := strconv.ParseFloat(p[0], 64)
			y, err2 := strconv.ParseFloat(p[1], 64)
			require.NoError(t, err1)
			require.NoError(t, err2)
			xy = append(xy, [2]float64{150 * x, 150 * y})
		}
		full(row.N, xy)
	}
	for _, name := range []string{"bolt-circle-mh31-5A", "bolt-circle-mh31-5B", "bolt-circle-mh31-5A-corner"} {
		var ref struct{ Points [][2]float64 }
		read(name+".json", &ref)
		full(5, ref.Points)
	}
}

func TestWrap(t *testing.T) {
	assert.Equal(t, 0.0, geom.Wrap(-1e-300))
	assert.Equal(t, 0.0, geom.Wrap(2*math.Pi))
	assert.InDelta(t, -170*math.Pi/180, geom.WrapHalf(190*math.Pi/180), 1e-12)
}
