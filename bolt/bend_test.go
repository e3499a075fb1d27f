package bolt

import (
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim"
)

func TestUnbend(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	var pts []r3.Vector
	var height []float64
	for range 500 {
		x, y := 900+80*rng.Float64(), 30*rng.Float64()
		pts = append(pts, r3.Vector{X: x, Y: y})
		height = append(height, 3+0.01*x-0.02*y+1e-4*x*x-2e-4*x*y+3e-4*y*y)
	}
	unbend(pts, height)
	for _, h := range height {
		assert.InDelta(t, 0, h, 1e-9)
	}
	// On a line there is a parabola only.
	for i := range pts {
		pts[i].Y, height[i] = 0, pts[i].X*pts[i].X
	}
	unbend(pts, height)
	for _, h := range height {
		assert.InDelta(t, 0, h, 1e-6)
	}
}

// A white face bent by 0.1 mm stays white (of 10 faces more than 3 are taken for waves
// with a chance of 2e-6; see TestWavesOfAFace), and waves are seen beside the bow.
func TestBentFaceHasNoWaves(t *testing.T) {
	waved := 0
	for _, k := range []scansim.Kernel{{}, {Length: coverRadius / 2}} {
		p := newCoverPart(t, coverRow{kernel: k, arc: 360 * s1.Degree, holes: 1, face: true})
		rng := rand.New(rand.NewPCG(4, 2))
		for range 10 {
			f := p.drawFace(rng)
			for i, q := range f.pts {
				f.height[i] += 0.1 * q[0] * q[0] / 6400
			}
			w, err := wavesOf(t.Context(), f, grain{noise: coverSigma, spacing: 0.5}, 1)
			require.NoError(t, err)
			if k.Length == 0 {
				waved += min(1, len(w.length))
				continue
			}
			assert.InEpsilon(t, coverRadius/2, w.reach(), 0.5, "five times what it scatters by")
		}
	}
	assert.Less(t, waved, 4)
}
