package bolt

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

// Ideal returns a full ring of n exact holes on the face z = 0, looking along
// +Z, about the origin: pitchDiameter in mm, the first hole clocking away from
// +X, numbered counter-clockwise. The holes are points: they have no diameter
// and no uncertainty.
func Ideal(n int, pitchDiameter float64, clocking s1.Angle) []Hole {
	holes := make([]Hole, n)
	for i := range holes {
		sin, cos := math.Sincos(clocking.Radians() + 2*math.Pi*float64(i)/float64(n))
		holes[i] = Hole{
			ID:     fmt.Sprintf("H%d", i+1),
			Kind:   Round,
			Centre: r3.Vector{X: pitchDiameter / 2 * cos, Y: pitchDiameter / 2 * sin},
			Axis:   r3.Vector{Z: 1},
			Face:   "P1",
			Arc:    s1.Angle(2 * math.Pi),
		}
	}
	return holes
}
