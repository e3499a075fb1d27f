package segment

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

// A planed block with a sawn end, meshed coarsely, four times as densely at the rough end:
// what the smooth sides show is the noise, though patches of the end are of more points.
func TestNoiseOfABlockWithARoughEnd(t *testing.T) {
	const noise = 0.05
	size := r3.Vector{X: 88, Y: 87, Z: 205}
	block := scansim.NewPart("block", scansim.Box("top", "bottom", "side", r3.Vector{}, size),
		r3.Vector{}, size, nil)
	block = scansim.WithForm(block, scansim.Texture(1, 1.2, 4, 12), "top")
	var pts []r3.Vector
	var triangles [][3]int32
	add := func(voxel float64, drop func(p r3.Vector) bool) {
		s, _, err := scansim.Fused(t.Context(), block, scansim.FusedOptions{Seed: 1, Voxel: voxel,
			Noise: noise, NoiseLength: [3]float64{2, 2, 2}, ShowHidden: true, InPlace: true, Drop: drop})
		require.NoError(t, err)
		first := int32(len(pts))
		for i := range s.Len() {
			pts = append(pts, s.Point(i))
		}
		for _, c := range s.Triangles {
			triangles = append(triangles, [3]int32{first + c[0], first + c[1], first + c[2]})
		}
	}
	add(4, func(p r3.Vector) bool { return p.Z > 202 })
	add(1.7, func(p r3.Vector) bool { return p.Z <= 202 })
	s, err := mesh.New(t.Context(), pts, nil, triangles)
	require.NoError(t, err)
	s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	lo, hi := s.Bounds()
	coarse := coarseSpacing(s, lo.Sub(s.Origin), hi.Sub(lo))
	seen, err := samplingOf(t.Context(), s, nil, lo.Sub(s.Origin), coarse, 0, 0)
	require.NoError(t, err)
	assert.InDelta(t, noise, seen.Noise, 0.5*noise)
}
