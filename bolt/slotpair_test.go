package bolt

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

// A gap in the scan as wide as the slot, beside it and over a third of one flank, does
// not hide it: width and length are within 5 of their uncertainties, each by chance in
// 1e-4 (Student's distribution with 10 degrees of freedom).
func TestSlotBesideAWideGap(t *testing.T) {
	p := scansim.Plate(scansim.PlateSpec{Length: 60, Width: 50, Thickness: 6, Extras: scansim.Extras{
		Slots: []scansim.SlotSpec{{Width: 6, Length: 22}}}})
	for seed := range uint64(1) {
		s, seg, _ := simulate(t, p, scansim.FusedOptions{Seed: seed, Voxel: 0.35, Noise: 0.02,
			Drop: func(q r3.Vector) bool { return math.Hypot(q.X-1, q.Y-6) < 4.5 }})
		m, err := Measure(t.Context(), s, seg, Options{})
		require.NoError(t, err)
		require.Len(t, m.Holes, 1)
		h := m.Holes[0]
		assert.Equal(t, Slot, h.Kind)
		assert.InDelta(t, 6, h.Width, 5*h.WidthU)
		assert.InDelta(t, 22, h.Length, 5*h.LengthU)
	}
}
