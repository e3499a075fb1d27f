package bolt

import (
	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// flat is a face's own drawing sheet: x and y on the face, counter-clockwise
// seen from outside, z out of the material.
type flat struct {
	origin    r3.Vector
	e1, e2, n r3.Vector
}

// newFlat returns the sheet through origin with the outward unit normal n, its
// axes those of geom.Basis, to which covariances refer.
func newFlat(origin, n r3.Vector) flat {
	e1, e2 := geom.Basis(n)
	return flat{origin: origin, e1: e1, e2: e2, n: n}
}

// xy returns the foot of q on the sheet, mm.
func (f flat) xy(q r3.Vector) [2]float64 {
	d := q.Sub(f.origin)
	return [2]float64{d.Dot(f.e1), d.Dot(f.e2)}
}

// height returns the distance of q from the sheet, mm, positive outside.
func (f flat) height(q r3.Vector) float64 { return q.Sub(f.origin).Dot(f.n) }

// at returns the point of the sheet at p in space.
func (f flat) at(p [2]float64) r3.Vector {
	return f.origin.Add(f.e1.Mul(p[0])).Add(f.e2.Mul(p[1]))
}

// laidX returns the direction on the face from which holes are numbered: the
// scan's +X laid on the face, or +Y where the face looks along X (within 6
// degrees, where X laid on it would be shorter than 0.1).
func laidX(n r3.Vector) r3.Vector {
	for _, d := range []r3.Vector{{X: 1}, {Y: 1}} {
		if p := d.Sub(n.Mul(d.Dot(n))); p.Norm() > 0.1 {
			return p.Normalize()
		}
	}
	return r3.Vector{Y: 1} // not reached for a unit normal
}
