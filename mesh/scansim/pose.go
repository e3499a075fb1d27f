package scansim

import (
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"
)

// Pose carries the part's frame to the scan's: q = R p + T. R is a proper
// rotation, rows first.
type Pose struct {
	R [3][3]float64
	T r3.Vector
}

// Identity returns the pose that moves nothing.
func Identity() Pose {
	return Pose{R: [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}
}

// Apply returns where the point p of the part lies in the scan, mm.
func (g Pose) Apply(p r3.Vector) r3.Vector { return g.Turn(p).Add(g.T) }

// Turn returns the direction d of the part in the scan.
func (g Pose) Turn(d r3.Vector) r3.Vector {
	r := &g.R
	return r3.Vector{
		X: r[0][0]*d.X + r[0][1]*d.Y + r[0][2]*d.Z,
		Y: r[1][0]*d.X + r[1][1]*d.Y + r[1][2]*d.Z,
		Z: r[2][0]*d.X + r[2][1]*d.Y + r[2][2]*d.Z,
	}
}

// Inverse returns the pose that carries the scan's frame to the part's.
func (g Pose) Inverse() Pose {
	var inv Pose
	for i := range 3 {
		for j := range 3 {
			inv.R[i][j] = g.R[j][i]
		}
	}
	inv.T = inv.Turn(g.T).Mul(-1)
	return inv
}

// RandomRotation draws a rotation uniformly: Shoemake (1992), a unit
// quaternion (x, y, z, w) from three uniform numbers.
func RandomRotation(rng *rand.Rand) Pose {
	u1, u2, u3 := rng.Float64(), 2*math.Pi*rng.Float64(), 2*math.Pi*rng.Float64()
	s2, c2 := math.Sincos(u2)
	s3, c3 := math.Sincos(u3)
	a, b := math.Sqrt(1-u1), math.Sqrt(u1)
	x, y, z, w := a*s2, a*c2, b*s3, b*c3
	return Pose{R: [3][3]float64{
		{1 - 2*(y*y+z*z), 2 * (x*y - w*z), 2 * (x*z + w*y)},
		{2 * (x*y + w*z), 1 - 2*(x*x+z*z), 2 * (y*z - w*x)},
		{2 * (x*z - w*y), 2 * (y*z + w*x), 1 - 2*(x*x+y*y)},
	}}
}

// randomPose draws a rotation, and a shift of up to 100 mm along each axis.
func randomPose(rng *rand.Rand) Pose {
	g := RandomRotation(rng)
	g.T = r3.Vector{
		X: 200*rng.Float64() - 100,
		Y: 200*rng.Float64() - 100,
		Z: 200*rng.Float64() - 100,
	}
	return g
}
