package bolt

import (
	"math"

	"github.com/golang/geo/s1"
)

// Wrap returns a turned by whole turns into [0, 360) degrees.
func Wrap(a s1.Angle) s1.Angle { return s1.Angle(wrap(a.Radians())) }

// wrap returns a, rad, turned by whole turns into [0, 2π).
func wrap(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	if a >= 2*math.Pi { // a tiny negative number rounds up to a whole turn
		return 0
	}
	return a
}

// wrapHalf returns a, rad, turned by whole turns into [-π, π).
func wrapHalf(a float64) float64 { return wrap(a+math.Pi) - math.Pi }
