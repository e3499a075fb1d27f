package bolt

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDistanceTransform(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	const nx, ny = 23, 17
	d := make([]float64, nx*ny)
	for i := range d {
		if rng.Float64() > 0.03 {
			d[i] = math.Inf(1)
		}
	}
	want := make([]float64, len(d))
	for i := range d {
		want[i] = math.Inf(1)
		for j := range d {
			if d[j] == 0 {
				dx, dy := i%nx-j%nx, i/nx-j/nx
				want[i] = min(want[i], float64(dx*dx+dy*dy))
			}
		}
	}
	require.NoError(t, distanceTransform(t.Context(), d, nx, ny, 2))
	assert.Equal(t, want, d)
}
