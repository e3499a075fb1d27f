package scansim

import "math"

// KernelShape is how correlation falls with distance.
type KernelShape string

// The shapes of correlation, with length L.
const (
	Exponential KernelShape = "exponential" // exp(-d/L)
	Gaussian    KernelShape = "gaussian"    // exp(-d²/(2L²))
)

// Kernel is the correlation of a scan's noise between two points of the
// surface at the distance d, mm. The zero value is independent noise.
type Kernel struct {
	Shape  KernelShape // empty means Exponential
	Length float64     // mm; zero means independent noise
	// Second is the length of a second scale of the same shape, mm, and
	// SecondShare its share of the correlated variance.
	Second, SecondShare float64
	// White is the share of all variance that is independent from point to
	// point.
	White float64
}

// At returns the correlation at the distance d, 1 at zero.
func (k Kernel) At(d float64) float64 {
	if d == 0 {
		return 1
	}
	c := k.one(d, k.Length)
	if k.SecondShare != 0 {
		c += k.SecondShare * (k.one(d, k.Second) - c)
	}
	return (1 - k.White) * c
}

func (k Kernel) one(d, length float64) float64 {
	switch {
	case length <= 0:
		return 0
	case k.Shape == Gaussian:
		return math.Exp(-d * d / (2 * length * length))
	}
	return math.Exp(-d / length)
}
