package bolt

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

// The four pockets of a plate with rounded corners, by their walls and by their rims alone:
// each is a rectangle, where it is, and as long and wide as it is within 4.5 standard
// uncertainties. False-alarm rate: 8 times 3 numbers of Student's distribution with 10
// degrees of freedom or more, 1e-3 each.
func TestRectangles(t *testing.T) {
	want := [][4]float64{{-28, 5, 12, 12}, {10, 5, 8, 8}, {30, -15, 12, 8}, {-30, 22, 12, 8}} // x, y, length, width
	for name, drop := range map[string]func(q r3.Vector) bool{
		"walls": nil,
		"rims":  func(q r3.Vector) bool { return q.Z < -0.3 && q.Z > -5 },
	} {
		t.Run(name, func(t *testing.T) {
			s, seg, truth := simulate(t, slotted(), scansim.FusedOptions{Seed: 2, Voxel: 0.4, Noise: 0.02, Drop: drop})
			m, err := Measure(t.Context(), s, seg, Options{})
			require.NoError(t, err)
			for _, w := range want {
				at := truth.Pose.Apply(r3.Vector{X: w[0], Y: w[1]})
				n := 0
				for _, h := range m.Holes {
					if h.Kind != Rectangle || h.Centre.Distance(at) > 0.3 {
						continue
					}
					n++
					assert.InDelta(t, w[2], h.Length, 4.5*h.LengthU)
					assert.InDelta(t, w[3], h.Width, 4.5*h.WidthU)
					assert.InDelta(t, 0, h.Centre.Distance(at), 4.5*math.Sqrt(h.CentreCov[0][0]+h.CentreCov[1][1]))
					assert.Less(t, h.LengthU, 0.25, "not a guess")
				}
				assert.Equal(t, 1, n, w)
			}
			assert.Len(t, m.Holes, 11, "two holes, five slots, four rectangles")
		})
	}
}
