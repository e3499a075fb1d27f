package scansim

import (
	"math"

	"github.com/golang/geo/r3"
)

// lattice is a random field in space of unit variance: independent normal
// numbers on a cubic lattice, blended by cubic B-splines. Its correlation at
// the distance d is close to exp(-d²/(2 length²)).
type lattice struct {
	seed uint64
	inv  float64 // nodes a mm
	off  r3.Vector
}

func newLattice(seed uint64, length float64) lattice {
	// The autocorrelation of a cubic B-spline of unit knots has the variance
	// 2/3, so a knot spacing of length*sqrt(3/2) gives that of exp(-d²/(2 length²)).
	u := func(k uint64) float64 { return float64(mix(seed+k*0x632be59bd9b4e019)>>11) / (1 << 53) }
	return lattice{
		seed: mix(seed),
		inv:  1 / (length * math.Sqrt(1.5)),
		off:  r3.Vector{X: u(1), Y: u(2), Z: u(3)},
	}
}

// at returns the field's value at p.
func (l lattice) at(p r3.Vector) float64 {
	var w [3][4]float64
	var base [3]int64
	norm := 1.0
	for k, x := range [3]float64{p.X*l.inv + l.off.X, p.Y*l.inv + l.off.Y, p.Z*l.inv + l.off.Z} {
		f := math.Floor(x)
		t := x - f
		base[k] = int64(f) - 1
		s := 1 - t
		w[k] = [4]float64{s * s * s / 6, (4 - 3*t*t*(2-t)) / 6, (4 - 3*s*s*(2-s)) / 6, t * t * t / 6}
		norm *= w[k][0]*w[k][0] + w[k][1]*w[k][1] + w[k][2]*w[k][2] + w[k][3]*w[k][3]
	}
	sum := 0.0
	for c := range 4 {
		hz := l.seed + uint64(base[2]+int64(c))*0x9e3779b97f4a7c15
		for b := range 4 {
			hy := hz + uint64(base[1]+int64(b))*0xc2b2ae3d27d4eb4f
			row := 0.0
			for a := range 4 {
				row += w[0][a] * nearlyNormal(mix(hy+uint64(base[0]+int64(a))*0xd6e8feb86659fd93))
			}
			sum += w[2][c] * w[1][b] * row
		}
	}
	// Independent unit numbers with weights w have the variance Σw².
	return sum / math.Sqrt(norm)
}

// mix scatters the bits of x (the finaliser of a 64-bit congruential hash;
// constants of Steele, Lea and Flood, Fast splittable pseudorandom number
// generators, OOPSLA 2014).
func mix(x uint64) uint64 {
	x ^= x >> 30
	x *= 0xbf58476d1ce4e5b9
	x ^= x >> 27
	x *= 0x94d049bb133111eb
	return x ^ x>>31
}

// nearlyNormal returns the sum of the four 16-bit parts of h, scaled to mean 0
// and variance 1. The field sums dozens of them.
func nearlyNormal(h uint64) float64 {
	s := h&0xffff + h>>16&0xffff + h>>32&0xffff + h>>48
	// Four uniform numbers on 0..65535: mean 131070, variance 4 (65536² - 1)/12.
	return (float64(s) - 131070) * (1 / 37837.22751438945)
}

// newSurfaceNoise returns the sum of three fields: their lengths and shares of the
// variance sigma².
func newSurfaceNoise(seed uint64, sigma float64, length, share [3]float64) func(r3.Vector) float64 {
	var part [3]lattice
	var scale [3]float64
	for k := range 3 {
		part[k] = newLattice(seed+uint64(k)*0xd1342543de82ef95, length[k])
		scale[k] = sigma * math.Sqrt(share[k]/(share[0]+share[1]+share[2]))
	}
	return func(p r3.Vector) (v float64) {
		for k, s := range scale {
			if s != 0 {
				v += s * part[k].at(p)
			}
		}
		return v
	}
}
