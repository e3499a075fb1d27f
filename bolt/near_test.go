package bolt

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// Just the points of a tube are found, by comparison with looking at every point, however
// the scan lies.
func TestNearFindsTubes(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for thin := range 3 {
		s := &mesh.Scan{Origin: r3.Vector{X: 100}}
		for range 20_000 {
			p := mesh.Vec32{60*rng.Float32() - 20, 40 * rng.Float32(), 40 * rng.Float32()}
			p[thin] /= 4
			s.Offsets = append(s.Offsets, p)
		}
		cells, err := newBuckets(t.Context(), s)
		require.NoError(t, err)
		f := &finder{scan: s, cells: cells}
		for range 100 {
			axis := r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Normalize()
			fc := &face{flat: newFlat(s.Point(rng.IntN(s.Len())), axis)}
			x, y, r0, h0, h1 := rng.Float64(), rng.Float64(), 10*rng.Float64(), -5*rng.Float64(), 5*rng.Float64()
			r1 := r0 + 2*rng.Float64()
			var want []int32
			for i := range s.Offsets {
				q := s.Point(i)
				h := fc.flat.height(q)
				r := q.Sub(fc.flat.at([2]float64{x, y})).Sub(axis.Mul(h)).Norm()
				if r >= r0 && r <= r1 && h >= h0 && h <= h1 {
					want = append(want, int32(i))
				}
			}
			got := slices.Sorted(slices.Values(f.near(fc, x, y, r0, r1, h0, h1)))
			assert.Equal(t, want, got)
		}
	}
}
