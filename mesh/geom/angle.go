package geom

import "math"

// Wrap returns a, rad, turned by whole turns into [0, 2π).
func Wrap(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	if a >= 2*math.Pi { // a tiny negative number rounds up to a whole turn
		return 0
	}
	return a
}

// WrapHalf returns a, rad, turned by whole turns into [-π, π).
func WrapHalf(a float64) float64 { return Wrap(a+math.Pi) - math.Pi }
