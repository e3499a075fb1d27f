// Package geom is the small geometry that the packages above share: symmetric
// eigenproblems and linear systems of a few unknowns, planes and quadrics
// through scattered points, circles and spheres through three and four of
// them, orthonormal bases and order statistics.
//
// Vectors are r3.Vector, lengths are in any one unit. Nothing here allocates,
// so all of it may run once a point. It knows of no scan and no
// uncertainty: packages mesh and fit do.
package geom

import (
	"math"

	"github.com/golang/geo/r3"
)

// Unit returns v over its length, and zero for zero. r3.Vector.Normalize
// multiplies by a rounded reciprocal; dividing keeps the last digit.
func Unit(v r3.Vector) r3.Vector {
	n := v.Norm()
	if n == 0 {
		return v
	}
	return r3.Vector{X: v.X / n, Y: v.Y / n, Z: v.Z / n}
}

// Basis returns two unit vectors that make a right-handed frame with the unit
// vector n: e1 × e2 = n. Equal n give equal frames.
//
// Duff et al. (2017), Building an Orthonormal Basis, Revisited, JCGT 6(1),
// listing 3: accurate near both poles.
func Basis(n r3.Vector) (e1, e2 r3.Vector) {
	sign := math.Copysign(1, n.Z)
	a := -1 / (sign + n.Z)
	b := n.X * n.Y * a
	e1 = r3.Vector{X: 1 + sign*n.X*n.X*a, Y: sign * b, Z: -sign * n.X}
	e2 = r3.Vector{X: b, Y: sign + n.Y*n.Y*a, Z: -n.Y}
	return e1, e2
}

// Finite reports whether every coordinate of v is a finite number.
func Finite(v r3.Vector) bool {
	// x-x is NaN for an infinite or NaN x, else 0.
	d := (v.X - v.X) + (v.Y - v.Y) + (v.Z - v.Z)
	return !math.IsNaN(d)
}

// Bounds returns the smallest and largest corner of the box around pts, zero
// for none.
func Bounds(pts []r3.Vector) (lo, hi r3.Vector) {
	if len(pts) == 0 {
		return lo, hi
	}
	lo, hi = pts[0], pts[0]
	for _, p := range pts[1:] {
		lo.X, hi.X = min(lo.X, p.X), max(hi.X, p.X)
		lo.Y, hi.Y = min(lo.Y, p.Y), max(hi.Y, p.Y)
		lo.Z, hi.Z = min(lo.Z, p.Z), max(hi.Z, p.Z)
	}
	return lo, hi
}

// Circle returns the centre and radius of the circle through three points, in
// their own plane. ok is false where they lie on one line, but for rounding.
func Circle(a, b, c r3.Vector) (centre r3.Vector, radius float64, ok bool) {
	u, v := b.Sub(a), c.Sub(a)
	w := u.Cross(v)
	if !(w.Norm() > straight*u.Norm()*v.Norm()) {
		return centre, 0, false
	}
	// centre - a = (|u|² v×w + |v|² w×u) / (2 |w|²)
	d := v.Cross(w).Mul(u.Norm2()).Add(w.Cross(u).Mul(v.Norm2())).Mul(1 / (2 * w.Norm2()))
	return a.Add(d), d.Norm(), true
}

// Sphere returns the centre and radius of the sphere through four points. ok
// is false where they lie in one plane, but for rounding.
func Sphere(a, b, c, d r3.Vector) (centre r3.Vector, radius float64, ok bool) {
	u, v, w := b.Sub(a), c.Sub(a), d.Sub(a)
	n := v.Cross(w)
	det := 2 * u.Dot(n)
	if !(math.Abs(det) > straight*u.Norm()*v.Norm()*w.Norm()) {
		return centre, 0, false
	}
	// 2 u·x = |u|², 2 v·x = |v|², 2 w·x = |w|², x from a, by Cramer's rule.
	x := n.Mul(u.Norm2()).Add(w.Cross(u).Mul(v.Norm2())).Add(u.Cross(v).Mul(w.Norm2())).Mul(1 / det)
	return a.Add(x), x.Norm(), true
}
