package mesh

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everywhere is the inside of a face without end.
func everywhere(x, y float64) float64 { return math.Inf(1) }

// rect strews density points a mm² over a rectangle spanned by a and b from p,
// facing a × b.
func (c *cloudSampler) rect(p, a, b [3]float64, density float64) {
	n := cross3(a, b)
	l := math.Sqrt(dot3(n, n))
	for range int(l * density) {
		u, v := c.rng.Float64(), c.rng.Float64()
		q := p
		for i := range q {
			q[i] += u*a[i] + v*b[i]
		}
		c.add(q, [3]float64{n[0] / l, n[1] / l, n[2] / l}, true)
	}
}

// box strews a box with a corner at zero; sides names those that were seen:
// x, X, y, Y, z, Z for the lower and upper ends of each axis.
func (c *cloudSampler) box(x, y, z float64, sides string, density float64) {
	X, Y, Z := [3]float64{x}, [3]float64{0, y}, [3]float64{0, 0, z}
	for _, s := range sides {
		switch s {
		case 'x':
			c.rect([3]float64{}, Z, Y, density)
		case 'X':
			c.rect(X, Y, Z, density)
		case 'y':
			c.rect([3]float64{}, X, Z, density)
		case 'Y':
			c.rect(Y, Z, X, density)
		case 'z':
			c.rect([3]float64{}, Y, X, density)
		case 'Z':
			c.rect(Z, X, Y, density)
		}
	}
}

// Which side is out, over kinds of parts. What must be known
// is known and right every time, what cannot be known is never claimed. (The
// figures behind these decisions lie several times off their limits.)
func TestOrientationOfParts(t *testing.T) {
	disc := func(r0, r1 float64) func(x, y float64) float64 {
		return func(x, y float64) float64 { r := math.Hypot(x, y); return min(r1-r, r-r0) }
	}
	parts := []struct {
		name  string
		known bool
		right bool // the side is right though it is not known
		make  func(c *cloudSampler)
	}{
		{"box all around", true, true, func(c *cloudSampler) { c.box(30, 20, 10, "xXyYzZ", 4) }},
		{"box, five sides", true, true, func(c *cloudSampler) { c.box(30, 20, 10, "xXyYZ", 4) }},
		{"plate with holes from above", true, true, func(c *cloudSampler) { c.plate(4, 8, 0) }},
		{"plate with holes and boss from above", true, true, func(c *cloudSampler) { c.plate(4, 8, 6) }},
		{"thin sheet, both sides and rim", true, true, func(c *cloudSampler) { c.box(40, 30, 1.5, "xXyYzZ", 6) }},
		{"shaft with ends", true, true, func(c *cloudSampler) {
			c.wall(0, 0, 6, 0, 30, 4, 1, nil)
			c.flat(30, 6, 4, 1, disc(0, 6))
			c.flat(0, 6, 4, -1, disc(0, 6))
		}},
		{"stepped shaft, far end not seen", true, true, func(c *cloudSampler) {
			c.wall(0, 0, 10, 0, 15, 4, 1, nil)
			c.flat(15, 10, 4, 1, disc(6, 10))
			c.wall(0, 0, 6, 15, 35, 4, 1, nil)
			c.flat(35, 6, 4, 1, disc(0, 6))
		}},
		{"tee of two pipes, ends open", true, true, func(c *cloudSampler) {
			// Pipe of radius 10 along Z, a branch of radius 6 along X.
			c.wall(0, 0, 10, -30, 30, 3, 1, func(x, y, z float64) bool { return x < 0 || math.Hypot(y, z) > 6 })
			n := len(c.pts)
			c.wall(0, 0, 6, 0, 25, 3, 1, nil)
			for i := n; i < len(c.pts); i++ { // turn Z into X
				p, m := c.pts[i], c.truth[i]
				c.pts[i], c.truth[i] = Vec32{p[2], p[1], -p[0]}, Vec32{m[2], m[1], -m[0]}
			}
			keep := c.pts[:n]
			truth := c.truth[:n]
			for i := n; i < len(c.pts); i++ {
				if p := c.pts[i]; math.Hypot(float64(p[0]), float64(p[1])) > 10 {
					keep, truth = append(keep, p), append(truth, c.truth[i])
				}
			}
			c.pts, c.truth, c.noEdge = keep, truth, c.noEdge[:len(keep)]
		}},
		{"scrap of face with a deep bore", true, true, func(c *cloudSampler) {
			c.flat(0, 25, 4, 1, func(x, y float64) float64 { return math.Hypot(x, y) - 12 })
			c.wall(0, 0, 12, -30, 0, 2, -1, nil)
		}},
		{"face with a blind pocket", false, false, func(c *cloudSampler) {
			c.flat(0, 25, 4, 1, func(x, y float64) float64 { return math.Hypot(x, y) - 12 })
			c.wall(0, 0, 12, -10, 0, 4, -1, nil)
			c.flat(-10, 12, 4, 1, disc(0, 12))
		}},
		{"flat face alone", false, false, func(c *cloudSampler) { c.flat(0, 20, 4, 1, everywhere) }},
		{"wall of a tube alone", false, false, func(c *cloudSampler) { c.wall(0, 0, 10, 0, 30, 4, -1, nil) }},
		{"dish", false, false, func(c *cloudSampler) {
			for range 6000 {
				cos := 0.3 + 0.7*c.rng.Float64()
				sin := math.Sqrt(1 - cos*cos)
				b, a := math.Sincos(2 * math.Pi * c.rng.Float64())
				n := [3]float64{sin * a, sin * b, cos}
				c.add([3]float64{20 * n[0], 20 * n[1], 20 * n[2]}, [3]float64{-n[0], -n[1], -n[2]}, true)
			}
		}},
	}
	for _, p := range parts {
		t.Run(p.name, func(t *testing.T) {
			for seed := range uint64(1) {
				c := newSampler(seed, 0.03)
				p.make(c)
				c.outliers(0.05)
				s := c.scan()
				s, err := EstimateNormals(t.Context(), s, nil, 0)
				require.NoError(t, err)
				_, out := c.tilts(s.Normals, func(int) bool { return true })
				t.Logf("seed %d: known %v, outward %.4f", seed, !s.Unoriented, out)
				assert.Equal(t, p.known, !s.Unoriented, "seed %d", seed)
				if p.right {
					assert.Greater(t, out, 0.98, "seed %d: outward", seed)
				} else {
					assert.True(t, out > 0.98 || out < 0.02, "seed %d: one side throughout, %.3f outward", seed, out)
				}
			}
		})
	}
}
