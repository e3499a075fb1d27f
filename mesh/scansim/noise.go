package scansim

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"gonum.org/v1/gonum/dsp/fourier"
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

// Feature draws the points of one hole or face again and again: make it once, draw
// many. Its noise is stationary and normal, drawn by circulant embedding (Dietrich and
// Newsam 1997): exact where the embedding's eigenvalues are not negative, which embed
// sees to. It is safe for concurrent use.
type Feature struct {
	ideal  []r3.Vector // row by row
	out    []r3.Vector // direction of the noise, unit
	sigma  float64
	nu     int       // points in a row
	mu, mv int       // of the torus that the grid is cut from
	root   []float64 // of its eigenvalues
}

// WallSpec describes the points of one hole about the z axis, its face in z =
// 0: rows of points round the wall, or a single row, its rim.
type WallSpec struct {
	Radius float64 // mm
	// Around is the number of points in a row, Rows the number of rows; zero
	// rows means 1.
	Around, Rows int
	// Depth is where the last row lies, mm below the face; the first is in it.
	Depth float64
	// Arc that is seen, and where it begins; zero Arc means all round.
	Arc, Start s1.Angle
	// Sigma is the standard deviation of the radius, mm, with the correlation
	// Kernel over the distance in space.
	Sigma  float64
	Kernel Kernel
}

// NewWall prepares the drawing of points as spec asks.
func NewWall(spec WallSpec) (*Feature, error) {
	rows := cmp.Or(spec.Rows, 1)
	if !(spec.Radius > 0) || spec.Around < 1 || rows < 1 || !(spec.Arc >= 0 && spec.Arc <= 2*math.Pi) {
		return nil, fmt.Errorf("simulate a wall: radius %v mm, %d by %d points, arc %v: "+
			"use positive numbers and at most a full turn", spec.Radius, spec.Around, rows, spec.Arc)
	}
	ring := spec.Arc == 0 || spec.Arc == 2*math.Pi
	step := 2 * math.Pi / float64(spec.Around)
	if !ring {
		step = spec.Arc.Radians() / float64(max(1, spec.Around-1))
	}
	r, rise := spec.Radius, spec.Depth/float64(max(1, rows-1))
	w := &Feature{sigma: spec.Sigma}
	for j := range rows {
		for i := range spec.Around {
			sin, cos := math.Sincos(spec.Start.Radians() + step*float64(i))
			w.out = append(w.out, r3.Vector{X: cos, Y: sin})
			w.ideal = append(w.ideal, r3.Vector{X: r * cos, Y: r * sin, Z: -rise * float64(j)})
		}
	}
	// The distance is that through space, along the chord.
	chord := func(lag int) float64 { return 2 * r * math.Sin(min(float64(lag)*step, math.Pi)/2) }
	return w, w.embed(axis{spec.Around, ring, step * r, chord}, straight(rows, rise), spec.Kernel)
}

// PatchSpec describes a rectangular face about the origin in z = 0.
type PatchSpec struct {
	Length, Width float64 // mm, along x and y
	Nu, Nv        int     // points along x and y
	Sigma         float64 // mm, along z, with the correlation Kernel
	Kernel        Kernel
}

// NewPatch prepares the drawing of points as spec asks.
func NewPatch(spec PatchSpec) (*Feature, error) {
	if !(spec.Length > 0 && spec.Width > 0) || spec.Nu < 2 || spec.Nv < 2 {
		return nil, fmt.Errorf("simulate a face of %v by %v mm with %d by %d points: "+
			"use positive lengths and at least 2 points each way", spec.Length, spec.Width, spec.Nu, spec.Nv)
	}
	du, dv := spec.Length/float64(spec.Nu-1), spec.Width/float64(spec.Nv-1)
	p := &Feature{sigma: spec.Sigma}
	for j := range spec.Nv {
		for i := range spec.Nu {
			p.out = append(p.out, up)
			x, y := du*float64(i)-spec.Length/2, dv*float64(j)-spec.Width/2
			p.ideal = append(p.ideal, r3.Vector{X: x, Y: y})
		}
	}
	return p, p.embed(straight(spec.Nu, du), straight(spec.Nv, dv), spec.Kernel)
}

// Draw returns the points of one scan of the feature, row by row.
func (f *Feature) Draw(rng *rand.Rand) []r3.Vector {
	pts := slices.Clone(f.ideal)
	if f.sigma == 0 {
		return pts
	}
	// The transform of sqrt(λ/M) z with z complex normal: its real part has the
	// covariance asked.
	a := make([]complex128, len(f.root))
	for i, r := range f.root {
		a[i] = complex(r*rng.NormFloat64(), r*rng.NormFloat64())
	}
	f.transform(a)
	for i := range pts {
		pts[i] = pts[i].Add(f.out[i].Mul(f.sigma * real(a[i/f.nu*f.mu+i%f.nu])))
	}
	return pts
}

// axis is one direction of a grid: n points at lags of given distance.
type axis struct {
	n    int
	ring bool                  // the n points close on themselves
	step float64               // from one to the next, mm
	dist func(lag int) float64 // mm
}

// straight returns an axis of n points at the given spacing.
func straight(n int, step float64) axis {
	return axis{n: n, step: step, dist: func(lag int) float64 { return float64(lag) * step }}
}

// torus returns the period to start from: a power of 2 that holds every lag
// once either way, or the ring itself.
func (a axis) torus() int {
	if a.ring || a.n == 1 {
		return a.n
	}
	m := 1
	for m < 2*(a.n-1) {
		m *= 2
	}
	return m
}

// embed finds a torus on which the grid's covariance has hardly a negative eigenvalue.
func (f *Feature) embed(u, v axis, k Kernel) error {
	if !(k.White >= 0 && k.White <= 1) || !(k.SecondShare >= 0 && k.SecondShare <= 1) {
		return fmt.Errorf("correlated noise: shares of %v and %v: use 0 to 1", k.White, k.SecondShare)
	}
	f.nu, f.mu, f.mv = u.n, u.torus(), v.torus()
	for f.eigenvalues(u, v, k) > maxClipped {
		// A larger torus lets the correlation die out before it wraps: double
		// the shorter way round.
		growU, growV := !u.ring && u.n > 1, !v.ring && v.n > 1
		switch {
		case f.mu*f.mv >= 1<<23 || !growU && !growV:
			return fmt.Errorf("correlated noise: %v mm is too long for %d by %d points", k.Length, u.n, v.n)
		case growU && (!growV || float64(f.mu)*u.step <= float64(f.mv)*v.step):
			f.mu *= 2
		default:
			f.mv *= 2
		}
	}
	return nil
}

// eigenvalues computes their square roots and returns the share that had to be clipped.
func (f *Feature) eigenvalues(u, v axis, k Kernel) (lost float64) {
	a := make([]complex128, f.mu*f.mv)
	for j := range f.mv {
		dv := v.dist(min(j, f.mv-j))
		for i := range f.mu {
			a[j*f.mu+i] = complex(k.At(math.Hypot(u.dist(min(i, f.mu-i)), dv)), 0)
		}
	}
	f.transform(a)
	f.root = make([]float64, len(a))
	sum, neg := 0.0, 0.0
	for i, c := range a {
		if l := real(c); l > 0 {
			sum += l
			f.root[i] = math.Sqrt(l)
		} else {
			neg -= l
		}
	}
	// The variance is Σλ/M; make it 1 after clipping too.
	for i := range f.root {
		f.root[i] /= math.Sqrt(sum)
	}
	return neg / sum
}

// transform is the discrete Fourier transform of a over the torus.
func (f *Feature) transform(a []complex128) {
	row, col := fourier.NewCmplxFFT(f.mu), fourier.NewCmplxFFT(f.mv)
	for j := range f.mv {
		r := a[j*f.mu:][:f.mu]
		row.Coefficients(r, r)
	}
	line := make([]complex128, f.mv)
	for i := range f.mu {
		for j := range line {
			line[j] = a[j*f.mu+i]
		}
		col.Coefficients(line, line)
		for j, v := range line {
			a[j*f.mu+i] = v
		}
	}
}
