package segment

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// strip returns points on part of a wall of radius r about the line x = at along
// z, with noise.
func strip(rng *rand.Rand, n int, at, r, from, to, noise float64) (out []r3.Vector) {
	for range n {
		phi, d := from+(to-from)*rng.Float64(), r+noise*rng.NormFloat64()
		out = append(out, r3.Vector{X: at + d*math.Cos(phi), Y: d * math.Sin(phi), Z: 6 * rng.Float64()})
	}
	return out
}

// Two halves of one wall are no strangers, whatever the noise does: 300 pairs, and
// it would take a deviation of more than ten standard errors. The walls of two
// holes are.
func TestOnlyWhatCannotBeOneIsNotFitted(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	r := &run{tex: mesh.Sampling{Spacing: 0.2}, tol: tolerance{floor: 3 * 0.02}}
	s := shape{kind: cylinderKind, a: r3.Vector{Z: 1}, r: 4.5}
	for range 300 {
		qa := strip(rng, mergeSample, 0, 4.5, 0, 2.5, 0.02)
		require.False(t, r.strangers(&s, qa, strip(rng, mergeSample, 0, 4.5, 3, 6, 0.02), 0))
		require.True(t, r.strangers(&s, qa, strip(rng, mergeSample, 40, 4.5, 0, 6, 0.02), 0))
	}
	few := strip(rng, 20, 0, 4.5, 0, 2, 0.02)
	assert.False(t, r.strangers(&s, few, strip(rng, 20, 40, 4.5, 0, 6, 0.02), 0), "too few to tell")
}
