package bolt

import (
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// All points of a tube are found, by comparison with looking at every point, and
// not many others.
func TestBucketsFindTubes(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	s := &mesh.Scan{Origin: r3.Vector{X: 100}}
	for range 20_000 {
		s.Offsets = append(s.Offsets, mesh.Vec32{60*rng.Float32() - 20, 40 * rng.Float32(), 10 * rng.Float32()})
	}
	b, err := newBuckets(t.Context(), s)
	require.NoError(t, err)
	for range 200 {
		axis := r3.Vector{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Normalize()
		q := shell{at: r3.Vector{X: 60*rng.Float64() - 20, Y: 40 * rng.Float64(), Z: 10 * rng.Float64()}, axis: axis,
			r0: 10 * rng.Float64(), h0: -5 * rng.Float64(), h1: 5 * rng.Float64()}
		q.r1 = q.r0 + 2*rng.Float64()
		got := map[int32]bool{}
		for _, i := range b.in(q) {
			assert.False(t, got[i], "point %d twice", i)
			got[i] = true
		}
		far := 2 * b.edge
		for i, o := range s.Offsets {
			v := o.R3().Sub(q.at)
			h := v.Dot(axis)
			r := v.Sub(axis.Mul(h)).Norm()
			if r >= q.r0 && r <= q.r1 && h >= q.h0 && h <= q.h1 {
				assert.True(t, got[int32(i)], "point %d in the tube", i)
			}
			if r < q.r0-far || r > q.r1+far || h < q.h0-far || h > q.h1+far {
				assert.False(t, got[int32(i)], "point %d far from the tube", i)
			}
		}
	}
}
