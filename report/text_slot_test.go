package report

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"

	"spotface/bolt"
	"spotface/report/internal/testpart"
)

// A slot is listed by width and length over all, each with its uncertainty.
func TestSlotInTextAndReport(t *testing.T) {
	s, seg, m := (testpart.Part{U: 0.01}).Measure(t)
	m.Holes = append(m.Holes, bolt.Hole{ID: "H1", Kind: bolt.Slot, Width: 6, Length: 14, WidthU: 0.01, LengthU: 0.02,
		Direction: r3.Vector{X: 1}, DirectionU: 0.1 * s1.Degree, Axis: r3.Vector{Z: 1}, Face: "P1", From: bolt.Wall,
		Arc: 300 * s1.Degree, EndWalls: []string{"C8", "C9"}})
	rep := built(t, s, seg, m)
	h := rep.Hole("H1")
	assert.Equal(t, "slot", h.Kind)
	assert.InDelta(t, Coverage*0.01, h.Uncertainty.Width, 1e-4)
	assert.InDelta(t, Coverage*0.02, h.Uncertainty.Length, 1e-4)
	assert.InDelta(t, Coverage*0.1, h.Uncertainty.DirectionDeg, 1e-3)
	assert.Equal(t, []string{"", "C8", "C9"}, h.walls())
	text := textOf(t, rep)
	assert.Contains(t, text, "1 slot found.")
	assert.Contains(t, text, "slot  width, mm  length, mm\n  H1        6.000      14.000\n  +-        0.020       0.040  (95 %)")
	assert.Contains(t, text, "wall, 300 degrees of its ends")
}
