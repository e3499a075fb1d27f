package bolt

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt/pattern"
)

// Sources of the numbers: see testdata/README.md.
func readReference(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "bolt", name))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}

// holesAt puts holes at points of the face z = 0.
func holesAt(xy [][2]float64) []Hole {
	out := make([]Hole, len(xy))
	for i, p := range xy {
		out[i] = Hole{ID: fmt.Sprintf("H%d", i+1), Kind: Round, Face: "P1",
			Centre: r3.Vector{X: p[0], Y: p[1]}, Axis: r3.Vector{Z: 1}}
	}
	return out
}

// Machinery's Handbook, 31st ed., pp. 709-711: worked circles of five holes,
// coordinates printed to 5 decimals of the diameter. The book counts holes the
// other way round in its own (y down) coordinates; angles between neighbours
// are what is compared.
func TestClockWorkedCircles(t *testing.T) {
	for _, name := range []string{"bolt-circle-mh31-5A", "bolt-circle-mh31-5B", "bolt-circle-mh31-5A-corner"} {
		t.Run(name, func(t *testing.T) {
			var ref struct {
				Circle struct {
					N        int
					Diameter string
					Centre   [2]string
				}
				Recomputed struct {
					HoleXY [][2]string `json:"hole_xy"`
				}
				Points [][2]float64
			}
			readReference(t, name+".json", &ref)
			centre := r3.Vector{X: number(t, ref.Circle.Centre[0]), Y: number(t, ref.Circle.Centre[1])}

			// To the printed digits: half a unit of the fifth decimal, at a
			// radius of 0.5, shows in angle as at most 0.7e-5/0.5 rad each.
			c, err := Clock(holesAt(ref.Points), pattern.Reading{})
			require.NoError(t, err)
			assert.InDelta(t, number(t, ref.Circle.Diameter), c.PitchDiameter, 2e-5)
			assert.Less(t, c.Centre.Distance(centre), 1e-5)
			for _, s := range c.Spacing {
				assert.InDelta(t, 72, s.Angle.Degrees(), 4e-5*180/math.Pi)
			}

			// To the recomputed digits.
			var xy [][2]float64
			for _, p := range ref.Recomputed.HoleXY {
				xy = append(xy, [2]float64{number(t, p[0]), number(t, p[1])})
			}
			c, err = Clock(holesAt(xy), pattern.Reading{})
			require.NoError(t, err)
			assert.InDelta(t, 1, c.PitchDiameter, 1e-14)
			assert.Less(t, c.Centre.Distance(centre), 1e-14)
			assert.Equal(t, 5, c.Nominal.Positions)
			assert.True(t, c.Nominal.Full)
			for _, k := range c.Clocking {
				assert.InDelta(t, 0, k.Deviation.Degrees(), 1e-12)
				assert.InDelta(t, 0, k.FromOthers.Degrees(), 1e-12)
			}
		})
	}
}

// Machinery's Handbook, 31st ed., p. 711: lengths of chords, and coordinates of
// circles of 3 to 12 holes.
func TestClockChordTable(t *testing.T) {
	var ref struct {
		Rows []struct {
			N       int
			Chord   string      `json:"chord_factor_unit_diameter"`
			Holes   [][2]string `json:"holes_unit_diameter"`
			Spacing string      `json:"spacing_deg"`
		}
	}
	readReference(t, "bolt-circle-factors-3-12.json", &ref)
	require.Len(t, ref.Rows, 10)
	for _, row := range ref.Rows {
		const d = 150.0
		ideal := Ideal(row.N, d, 0)
		assert.InDelta(t, number(t, row.Chord), ideal[0].Centre.Distance(ideal[1].Centre)/d, 1e-15, "%d holes", row.N)
		var xy [][2]float64
		for _, p := range row.Holes {
			xy = append(xy, [2]float64{d * number(t, p[0]), d * number(t, p[1])})
		}
		c, err := Clock(holesAt(xy), pattern.Reading{})
		require.NoError(t, err)
		assert.InDelta(t, d, c.PitchDiameter, 1e-12*d)
		assert.Equal(t, row.N, c.Nominal.Positions)
		assert.Greater(t, c.Nominal.Probability, 0.95, "%d holes", row.N)
		require.Len(t, c.Spacing, row.N)
		for _, s := range c.Spacing {
			assert.InDelta(t, number(t, row.Spacing), s.Angle.Degrees(), 1e-11)
			assert.InDelta(t, 0, s.Deviation.Degrees(), 1e-11)
		}
	}
}
