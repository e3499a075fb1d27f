package fit

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// arc is the state of a circle, and of what is swept from one: an anchor on
// the surface near the points, the unit vector n from it toward the centre, the
// curvature k = 1/r, and t, w so that n × t = w. The centre is at + n/k.
//
// Centre and radius run away together on a short arc and jump through infinity
// on a straight one; anchor, direction and curvature pass through k = 0 as
// through any other number (N. Chernov & C. Lesort, Least squares fitting of
// circles, J. Math. Imaging Vision 23 (2005) 239–252, on why a form without
// infinity is needed). With q = (p - at)·n and t = (p - at)·t:
//
//	S = √((1 - kq)² + (kt)²) = |p - centre|/r
//	f = |p - centre| - r = (k(q² + t²) - 2q) / (1 + S)
//	c = (1 - kq)/S,  s = kt/S      the angle at the centre, from the anchor
//	shift δ along n      ∂f/∂δ = c
//	turn ω about at      ∂f/∂ω = -t/S
//	curvature            ∂f/∂k = (1 - c)/k² = (t/S)²/(1 + c)
//
// The first forms of f and ∂f/∂k cancel for small k, the last ones do not.
type arc struct {
	at      r3.Vector
	n, t, w r3.Vector
	k       float64
	phi     float64 // half angle of the cone through it, rad; zero for other shapes
}

// round says which form of ∂f/∂k to use: (1 - c)/k² where the arc bends enough
// over points one unit wide that its cancellation, ε/k² of a value near one,
// stays far below what a Jacobian needs (the gradient takes it times the
// residual). One choice for all points: which side of the centre a point is on
// is a coin's toss to the branch predictor and doubled the time of a pass.
func (a *arc) round() (yes bool, r2 float64) { return math.Abs(a.k) > roundFrom, 1 / (a.k * a.k) }

// arcAt makes the state of a circle with the given centre, axis and radius
// about the origin, which is near the points.
func arcAt(centre, w r3.Vector, radius float64) arc {
	across := centre.Sub(w.Mul(centre.Dot(w)))
	a := arc{w: w, k: 1 / radius}
	d := across.Norm()
	if d > onAxis*radius {
		a.n = geom.Unit(across)
	} else {
		a.n, _ = geom.Basis(w)
	}
	a.n = geom.Unit(a.n.Sub(w.Mul(a.n.Dot(w))))
	a.t = w.Cross(a.n)
	a.at = centre.Sub(a.n.Mul(radius))
	return a
}

// flatAt makes the state of a line or plane through the anchor.
func flatAt(at, n, w r3.Vector) arc {
	a := arc{at: at, n: n, w: w}
	a.t = w.Cross(n)
	return a
}

// turn moves the anchor by d and turns the frame: n by omega toward t, w by
// alpha toward n and by beta toward t.
func (a arc) turn(d r3.Vector, omega, alpha, beta float64) arc {
	b := a
	b.at = a.at.Add(d)
	if alpha != 0 || beta != 0 {
		b.w = geom.Unit(a.w.Add(a.n.Mul(alpha)).Add(a.t.Mul(beta)))
	}
	n := a.n.Add(a.t.Mul(omega)).Sub(a.w.Mul(alpha))
	b.n = geom.Unit(n.Sub(b.w.Mul(n.Dot(b.w))))
	b.t = b.w.Cross(b.n)
	return b
}

// centre is at + n/k.
func (a arc) centre() r3.Vector { return a.at.Add(a.n.Mul(1 / a.k)) }

// orient returns v or -v, the one whose largest component is positive.
func orient(v r3.Vector) r3.Vector {
	m := v.X
	if math.Abs(v.Y) > math.Abs(m) {
		m = v.Y
	}
	if math.Abs(v.Z) > math.Abs(m) {
		m = v.Z
	}
	if m < 0 {
		return v.Mul(-1)
	}
	return v
}

// angles returns cos and sin of the angle from n to e1 about w, where e1, e2
// is the frame of w that covariances refer to.
func (a arc) angles() (c, s float64) {
	e1, _ := geom.Basis(a.w)
	return a.n.Dot(e1), a.t.Dot(e1)
}
