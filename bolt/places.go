package bolt

import (
	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/bolt/pattern"
	"spotface/mesh/geom"
)

// PlacesOf lays the centres of holes on the plane through origin with the normal axis,
// x and y along geom.Basis(axis), with their joint covariance.
func PlacesOf(holes []Hole, origin, axis r3.Vector) pattern.Places {
	sheet := newFlat(origin, axis)
	p := pattern.Places{XY: make([][2]float64, len(holes)), Cov: mat.NewSymDense(2*len(holes), nil)}
	p.DOF = LeastDOF(holes)
	for i, h := range holes {
		p.XY[i] = sheet.xy(h.Centre)
		for j := i; j < len(holes); j++ {
			c := h.CentreCov
			if j > i {
				c = CommonError(h, holes[j])
			}
			c = rotated(sheet.turn(h.Axis), c, sheet.turn(holes[j].Axis))
			for x := range 2 {
				for y := range 2 {
					if j > i || y >= x {
						p.Cov.SetSym(2*i+x, 2*j+y, c[x][y])
					}
				}
			}
		}
	}
	return p
}

// LeastDOF is the least number of degrees of freedom of the holes' centres, 0 where all are
// known as well as a normal distribution tells. Holes of one pattern share their noise.
func LeastDOF(holes []Hole) (dof float64) {
	for _, h := range holes {
		if h.CentreDOF > 0 && (dof == 0 || h.CentreDOF < dof) {
			dof = h.CentreDOF
		}
	}
	return dof
}

// turn returns the sheet's axes in those of geom.Basis(axis).
func (f flat) turn(axis r3.Vector) [2][2]float64 {
	e1, e2 := geom.Basis(axis)
	return [2][2]float64{{f.e1.Dot(e1), f.e1.Dot(e2)}, {f.e2.Dot(e1), f.e2.Dot(e2)}}
}

// rotated returns a c bᵀ, a covariance along other axes.
func rotated(a, c, b [2][2]float64) (out [2][2]float64) {
	for x := range 2 {
		for y := range 2 {
			out[x][y] = a[x][0]*(c[0][0]*b[y][0]+c[0][1]*b[y][1]) + a[x][1]*(c[1][0]*b[y][0]+c[1][1]*b[y][1])
		}
	}
	return out
}

// CommonError is the covariance, mm², of the centres of two different holes, along
// geom.Basis of the one's axis and of the other's: what they have of a radius that
// both were fitted with, zero where they share none.
func CommonError(a, b Hole) [2][2]float64 {
	if c, ok := a.Cross[b.ID]; ok {
		return c
	}
	if a.shared == 0 || a.shared != b.shared {
		return [2][2]float64{}
	}
	return [2][2]float64{
		{a.common[0] * b.common[0], a.common[0] * b.common[1]},
		{a.common[1] * b.common[0], a.common[1] * b.common[1]},
	}
}
