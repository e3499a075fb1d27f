package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// Frame returns two unit vectors that make a right-handed frame with the unit
// vector n: e1 × e2 = n. It is the frame that covariances refer to. Equal n
// give equal frames.
func Frame(n r3.Vector) (e1, e2 r3.Vector) {
	// Duff et al., Building an Orthonormal Basis, Revisited, JCGT 6 (2017),
	// listing 3: no branch but on the sign, accurate near both poles.
	sign := math.Copysign(1, n.Z)
	a := -1 / (sign + n.Z)
	b := n.X * n.Y * a
	e1 = r3.Vector{X: 1 + sign*n.X*n.X*a, Y: sign * b, Z: -sign * n.X}
	e2 = r3.Vector{X: b, Y: sign + n.Y*n.Y*a, Z: -n.Y}
	return e1, e2
}

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

// unit returns v over its length. r3.Vector.Normalize multiplies by a rounded
// reciprocal; dividing keeps the last digit.
func unit(v r3.Vector) r3.Vector {
	n := v.Norm()
	if n == 0 {
		return v
	}
	return r3.Vector{X: v.X / n, Y: v.Y / n, Z: v.Z / n}
}

func finite(v r3.Vector) bool {
	s := v.X + v.Y + v.Z
	return !math.IsNaN(s-s) && !math.IsInf(s, 0)
}
