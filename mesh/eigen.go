package mesh

import "math"

// scatter is the sum of the moments of points about a place near them, in
// double precision.
type scatter struct {
	n                      float64
	x, y, z                float64
	xx, xy, xz, yy, yz, zz float64
}

func (s *scatter) add(v [3]float32) {
	x, y, z := float64(v[0]), float64(v[1]), float64(v[2])
	s.n++
	s.x += x
	s.y += y
	s.z += z
	s.xx += x * x
	s.xy += x * y
	s.xz += x * z
	s.yy += y * y
	s.yz += y * z
	s.zz += z * z
}

// plane returns the least squares plane n·v = d of the points: n, of unit
// length, belongs to the smallest eigenvalue of their covariance, which is
// returned too (mm², divided by n). ok is false where the points do not tell a
// plane: fewer than three, or all on a line or in one place.
func (s *scatter) plane() (n [3]float64, d, smallest float64, ok bool) {
	if s.n < 3 {
		return n, 0, 0, false
	}
	mx, my, mz := s.x/s.n, s.y/s.n, s.z/s.n
	a := s.xx/s.n - mx*mx
	b := s.yy/s.n - my*my
	c := s.zz/s.n - mz*mz
	f := s.xy/s.n - mx*my
	g := s.xz/s.n - mx*mz
	h := s.yz/s.n - my*mz
	n, smallest, ok = smallestEigen(a, b, c, f, g, h)
	return n, n[0]*mx + n[1]*my + n[2]*mz, smallest, ok
}

// lopsided returns the squared distance of the points' mean from the place
// they are about, over their mean squared distance.
func (s *scatter) lopsided() float64 {
	all := s.n * (s.xx + s.yy + s.zz)
	if !(all > 0) {
		return 0
	}
	return (s.x*s.x + s.y*s.y + s.z*s.z) / all
}

// smallestEigen returns the unit eigenvector of the smallest eigenvalue of the
// positive semidefinite matrix
//
//	a f g
//	f b h
//	g h c
//
// and that eigenvalue. ok is false if the eigenvalue is not single within
// rounding.
func smallestEigen(a, b, c, f, g, h float64) (v [3]float64, lambda float64, ok bool) {
	t := a + b + c
	if !(t > 0) || t > math.MaxFloat64 {
		return v, 0, false
	}
	// Scale to a trace of 1. The characteristic polynomial
	//   p(λ) = λ³ - λ² + mλ - q
	// has three roots in [0,1] and is concave below the smallest, so Newton
	// from 0 climbs to it without overshooting.
	a, b, c, f, g, h = a/t, b/t, c/t, f/t, g/t, h/t
	m := a*b - f*f + a*c - g*g + b*c - h*h
	q := a*(b*c-h*h) - f*(f*c-h*g) + g*(f*h-b*g)
	for range 30 {
		p := ((lambda-1)*lambda+m)*lambda - q
		dp := (3*lambda-2)*lambda + m
		if p >= 0 || dp <= 0 {
			break
		}
		step := -p / dp
		lambda += step
		if step < 1e-12 {
			break
		}
	}
	// The eigenvector is square to the rows of A - λI: take the longest of
	// their cross products.
	r0 := [3]float64{a - lambda, f, g}
	r1 := [3]float64{f, b - lambda, h}
	r2 := [3]float64{g, h, c - lambda}
	best := 0.0
	for _, w := range [3][3]float64{cross(r0, r1), cross(r0, r2), cross(r1, r2)} {
		if l := dot(w, w); l > best {
			best, v = l, w
		}
	}
	// The longest cross product is about the product of the two other gaps.
	if best < 1e-20 {
		return [3]float64{}, lambda * t, false
	}
	l := 1 / math.Sqrt(best)
	return [3]float64{v[0] * l, v[1] * l, v[2] * l}, lambda * t, true
}

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

func dot(a, b [3]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
