package bolt

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

// Two tapped M8 holes of a fused scan: each is found, its pitch measured, and its centre where
// it is, within 4.5 standard uncertainties (1e-5 by chance each).
func TestTapped(t *testing.T) {
	const pitch, height = 1.25, 0.5413 * 1.25
	part := scansim.Plate(scansim.PlateSpec{Length: 36, Width: 18, Thickness: 8, Extras: scansim.Extras{
		Holes: []scansim.HoleSpec{{X: -9, Y: 1, Diameter: 8 - height}, {X: 9, Diameter: 8 - height}}}})
	part = scansim.WithForm(part, scansim.Form{Kind: "thread", Max: height / 2, Slope: 1.8, Height: func(foot, normal r3.Vector) float64 {
		p := foot.Z/pitch - math.Atan2(-normal.Y, -normal.X)/(2*math.Pi)
		p -= math.Floor(p)
		// Crests stand into the hole; a quarter of the pitch is flat, an eighth at the root.
		return height * (0.5 - min(1, max(0, (math.Abs(2*p-1)-0.25)/0.625)))
	}}, "hole:*")
	s, seg, truth := found(t, part, scansim.FusedOptions{Seed: 3, Voxel: 0.25, Noise: 0.02})
	m, err := Measure(t.Context(), s, seg, Options{})
	require.NoError(t, err)
	_, missed := matched(t, m, truth)
	assert.Empty(t, missed)
	for _, h := range m.Holes {
		require.NotNil(t, h.Thread)
		assert.InDelta(t, pitch, h.Thread.Pitch, 0.02*pitch)
		assert.InDelta(t, 8-2*height, h.Diameter, 3*h.DiameterU)
		for _, q := range truth.Holes {
			if d := h.Centre.Sub(q.Centre); d.Norm() < 0.5 {
				d = d.Sub(h.Axis.Mul(d.Dot(h.Axis)))
				assert.Less(t, d.Norm(), 4.5*math.Sqrt(h.CentreCov[0][0]+h.CentreCov[1][1]))
			}
		}
	}
}
