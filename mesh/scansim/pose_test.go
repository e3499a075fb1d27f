package scansim

import (
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
)

func TestPoseIsProperAndUniform(t *testing.T) {
	var mean r3.Vector
	const n = 3000
	for seed := range uint64(n) {
		g := randomPose(rand.New(rand.NewPCG(seed, streamPose)))
		x, y, z := g.Turn(r3.Vector{X: 1}), g.Turn(r3.Vector{Y: 1}), g.Turn(r3.Vector{Z: 1})
		assert.InDelta(t, 1, x.Norm(), 1e-14)
		assert.InDelta(t, 0, x.Dot(y), 1e-14)
		assert.InDelta(t, 0, x.Cross(y).Distance(z), 1e-14, "a mirrored pose")
		p := r3.Vector{X: 3, Y: -20, Z: 7}
		assert.InDelta(t, 0, g.Inverse().Apply(g.Apply(p)).Distance(p), 1e-12)
		mean = mean.Add(z.Mul(1.0 / n))
	}
	// Each component of a uniform direction has the variance 1/3, its mean over
	// 3000 the deviation 0.0105; five of them: false alarm 2e-6 over three.
	for _, v := range []float64{mean.X, mean.Y, mean.Z} {
		assert.InDelta(t, 0, v, 5*0.0105)
	}
}
