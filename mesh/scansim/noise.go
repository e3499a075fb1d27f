package scansim

import (
	"math"
	"sync"

	"github.com/golang/geo/r3"
)

// lattice is a random field in space of unit variance: independent normal
// numbers on a cubic lattice, blended by cubic B-splines. Its correlation at
// the distance d is close to exp(-d²/(2 length²)).
type lattice struct {
	seed uint64
	inv  float64 // nodes a mm
	off  r3.Vector
	near *sync.Pool // of *nodes
}

// nodes are the numbers on the 4 x 4 x 4 nodes about a cell of a lattice, from base on. As
// places asked for follow each other along a surface, those of the last place often serve
// for the next.
type nodes struct {
	base [3]int64
	v    [64]float64
}

func newLattice(seed uint64, length float64) lattice {
	// The autocorrelation of a cubic B-spline of unit knots has the variance
	// 2/3, so a knot spacing of length*sqrt(3/2) gives that of exp(-d²/(2 length²)).
	u := func(k uint64) float64 { return float64(mix(seed+k*0x632be59bd9b4e019)>>11) / (1 << 53) }
	return lattice{
		seed: mix(seed),
		inv:  1 / (length * math.Sqrt(1.5)),
		off:  r3.Vector{X: u(1), Y: u(2), Z: u(3)},
		near: &sync.Pool{New: func() any { return &nodes{base: [3]int64{math.MinInt64}} }},
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
	near := l.near.Get().(*nodes)
	defer l.near.Put(near)
	if near.base != base {
		near.base = base
		for k := range near.v {
			x, y, z := base[0]+int64(k&3), base[1]+int64(k>>2&3), base[2]+int64(k>>4)
			near.v[k] = nearlyNormal(mix(l.seed + uint64(x)*0xd6e8feb86659fd93 +
				uint64(y)*0xc2b2ae3d27d4eb4f + uint64(z)*0x9e3779b97f4a7c15))
		}
	}
	sum := 0.0
	for k := 0; k < 64; k += 4 {
		row := 0.0
		for a, v := range near.v[k : k+4] {
			row += w[0][a] * v
		}
		sum += w[2][k>>4] * w[1][k>>2&3] * row
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
