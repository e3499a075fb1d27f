package forecast

import (
	"fmt"
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

// A simulated scan has the noise, the spacing and the correlation that were asked
// for. On 15,000 points of a face a standard deviation is sure to 0.6 %, and where
// each of some 400 patches is one number to 3.5 %; pairs at the correlation length
// scatter likewise. Bounds are 3.5 of these.
func TestScannerIsAsAsked(t *testing.T) {
	const noise, spacing = 0.03, 0.5
	part := scansim.NewPart("disc", scansim.Disc("top", "bottom", "outer", r3.Vector{}, 40, 5),
		r3.Vector{X: -40, Y: -40, Z: -5}, r3.Vector{X: 40, Y: 40}, nil)
	for _, kind := range []Kind{Mesh, Cloud} {
		for _, length := range []float64{0, 3} {
			t.Run(fmt.Sprintf("%s, shared over %g mm", kind, length), func(t *testing.T) {
				s, err := newScanner(t.Context(), part, kind, noise, length, spacing)
				require.NoError(t, err)
				scan, truth, err := s.scan(t.Context(), 1)
				require.NoError(t, err)
				if length == 0 {
					texture, err := mesh.EstimateSampling(t.Context(), scan, nil, 0, 0)
					require.NoError(t, err)
					assert.InEpsilon(t, spacing, texture.Spacing, 0.04)
				}

				back := truth.Pose.Inverse()
				var face []r3.Vector
				for i := range scan.Len() {
					if p := back.Apply(scan.Point(i)); math.Hypot(p.X, p.Y) < 36 && math.Abs(p.Z) < 1 {
						face = append(face, p)
					}
				}
				require.Greater(t, len(face), 10_000)
				square := 0.0
				for _, p := range face {
					square += p.Z * p.Z / float64(len(face))
				}
				sd, bound := math.Sqrt(square), 0.021
				if length > 0 {
					bound = 0.12
				}
				assert.InEpsilon(t, noise, sd, bound)

				near, far := correlated(face, square, length)
				if length == 0 {
					assert.InDelta(t, 0, near, 0.1, "neighbours share nothing")
				} else {
					assert.InDelta(t, math.Exp(-1), far, 0.15, "1/e at the length")
					assert.Greater(t, near, 0.8, "neighbours share nearly all")
				}
			})
		}
	}
}

// correlated returns the correlation of points one spacing apart and one length
// apart.
func correlated(face []r3.Vector, square, length float64) (near, far float64) {
	var nearPairs, farPairs float64
	for i := 0; i < len(face); i += 40 {
		for j := range face {
			dx, dy := face[i].X-face[j].X, face[i].Y-face[j].Y
			switch d := math.Sqrt(dx*dx + dy*dy); {
			case j == i:
			case d < 0.6:
				near += face[i].Z * face[j].Z
				nearPairs++
			case length > 0 && math.Abs(d-length) < 0.1:
				far += face[i].Z * face[j].Z
				farPairs++
			}
		}
	}
	return near / nearPairs / square, far / max(1, farPairs) / square
}
