package fit

import (
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// cloud is the points of one fit in columns, centred on their (weighted)
// centroid and divided by a power of two near their largest distance from it,
// which rounds nothing.
type cloud struct {
	x, y, z []float64
	sw      []float64 // root of the weights, mean weight one; nil if all equal
	n       int       // points of weight above zero
	centre  r3.Vector
	scale   float64
}

// columns centres and scales pts.
func columns(feature string, pts []r3.Vector, opt Options, need int) (*cloud, error) {
	n := len(pts)
	if n < need {
		return nil, &TooFewError{feature, n, need}
	}
	c := &cloud{n: n}
	if opt.Weights != nil {
		if err := c.weigh(feature, pts, opt.Weights, need); err != nil {
			return nil, err
		}
	}
	buf := make([]float64, 3*n)
	c.x, c.y, c.z = buf[:n:n], buf[n:2*n:2*n], buf[2*n:]

	// The mean of the offsets from a first point, so that no large common
	// shift is summed.
	p0 := pts[0]
	var total r3.Vector
	var weight float64
	for i, p := range pts {
		w := c.weight(i)
		total = total.Add(p.Sub(p0).Mul(w))
		weight += w
	}
	c.centre = p0.Add(r3.Vector{X: total.X / weight, Y: total.Y / weight, Z: total.Z / weight})
	if !geom.Finite(c.centre) {
		for i, p := range pts {
			if !geom.Finite(p) {
				return nil, &InputError{feature, i, p, "not a finite number"}
			}
		}
		return nil, &InputError{feature, -1, r3.Vector{}, "coordinates too large to add up"}
	}
	cx, cy, cz := c.centre.X, c.centre.Y, c.centre.Z
	var big float64
	for i, p := range pts {
		x, y, z := p.X-cx, p.Y-cy, p.Z-cz
		c.x[i], c.y[i], c.z[i] = x, y, z
		big = max(big, x*x+y*y+z*z)
	}
	if math.IsInf(big, 1) {
		return nil, &InputError{feature, -1, r3.Vector{}, "coordinates too large to square"}
	}
	if big == 0 {
		return nil, degenerate(feature, "all points are one")
	}
	// The points' own digits: differences below this are rounding.
	_, e := math.Frexp(math.Sqrt(big))
	c.scale = math.Ldexp(1, e-1)
	inv := math.Ldexp(1, 1-e)
	for i := range buf {
		buf[i] *= inv
	}
	return c, nil
}

// weigh stores the roots of w over its mean and counts what is above zero.
func (c *cloud) weigh(feature string, pts []r3.Vector, w []float64, need int) error {
	if len(w) != len(pts) {
		return &InputError{feature, -1, r3.Vector{}, "as many weights as points are needed"}
	}
	var sum float64
	n := 0
	for i, v := range w {
		if !(v >= 0) || math.IsInf(v, 0) {
			return &InputError{feature, i, pts[i], "a weight must be zero or a positive number"}
		}
		if v > 0 {
			n++
		}
		sum += v
	}
	if n < need {
		return &TooFewError{feature, n, need}
	}
	c.n = n
	c.sw = make([]float64, len(w))
	mean := sum / float64(n)
	for i, v := range w {
		c.sw[i] = math.Sqrt(v / mean)
	}
	return nil
}

// within reports whether a mean square is no more than rounding makes it.
func (c *cloud) within(ms float64) bool {
	g := c.grain()
	return ms <= roundingSquares*g*g
}

// grain is the rounding of the input itself in scaled units: what the last
// digit of the coordinates is worth.
func (c *cloud) grain() float64 {
	m := max(math.Abs(c.centre.X), math.Abs(c.centre.Y), math.Abs(c.centre.Z)) + c.scale
	return m * 0x1p-53 / c.scale
}

// sample returns about m of the points, one from each of m equal runs, in
// order: enough to find a start on.
func (c *cloud) sample(m int) *cloud {
	n := len(c.x)
	if n <= m+m/2 {
		return c
	}
	s := &cloud{n: m, centre: c.centre, scale: c.scale}
	// At random within each run, so that no regular order of the points is met by a
	// regular stride.
	rng := rand.New(rand.NewPCG(uint64(n), uint64(m)))
	for i := range m {
		lo, hi := i*n/m, (i+1)*n/m
		j := lo + rng.IntN(hi-lo)
		s.x, s.y, s.z = append(s.x, c.x[j]), append(s.y, c.y[j]), append(s.z, c.z[j])
		if c.sw != nil {
			s.sw = append(s.sw, c.sw[j])
		}
		if c.weight(j) == 0 {
			s.n--
		}
	}
	return s
}

// weight returns the weight of point i.
func (c *cloud) weight(i int) float64 {
	if c.sw == nil {
		return 1
	}
	return c.sw[i] * c.sw[i]
}

// at returns point i.
func (c *cloud) at(i int) r3.Vector { return r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]} }

// back returns a scaled point in the caller's frame.
func (c *cloud) back(p r3.Vector) r3.Vector { return p.Mul(c.scale).Add(c.centre) }

// in returns a caller's point scaled.
func (c *cloud) in(p r3.Vector) r3.Vector {
	d := p.Sub(c.centre)
	return r3.Vector{X: d.X / c.scale, Y: d.Y / c.scale, Z: d.Z / c.scale}
}
