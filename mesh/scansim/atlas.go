package scansim

import (
	"math"

	"github.com/golang/geo/r3"
)

// atlas is a solid cut up for quick evaluation: a box of cells, each with the
// little of the solid that can matter in it. Values are those of the solid
// itself.
type atlas struct {
	whole *Solid
	lo    r3.Vector
	inv   float64 // cells a mm
	n     [3]int
	cells []*Solid
}

// newAtlas cuts the box from lo to hi into cells. A
// cell's solid is good for points within margin of the cell too.
func newAtlas(s *Solid, lo, hi r3.Vector, margin float64) *atlas {
	size := hi.Sub(lo)
	edge := max(size.X, size.Y, size.Z) / atlasCells
	a := &atlas{whole: s, lo: lo, inv: 1 / edge}
	for k, l := range [3]float64{size.X, size.Y, size.Z} {
		a.n[k] = max(1, int(math.Ceil(l/edge)))
	}
	a.cells = make([]*Solid, a.n[0]*a.n[1]*a.n[2])
	a.split(s, [3]int{}, 64, edge, margin)
	return a
}

// split fills the cube of size cells from at on.
func (a *atlas) split(s *Solid, at [3]int, size int, edge, margin float64) {
	for k := range 3 {
		if at[k] >= a.n[k] {
			return
		}
	}
	half := float64(size) / 2 * edge
	c := a.lo.Add(r3.Vector{X: float64(at[0]), Y: float64(at[1]), Z: float64(at[2])}.Mul(edge)).
		Add(r3.Vector{X: half, Y: half, Z: half})
	s, _ = s.prune(c, math.Sqrt(3)*half*(1+1e-9)+margin)
	if size == 1 {
		a.cells[(at[2]*a.n[1]+at[1])*a.n[0]+at[0]] = s
		return
	}
	size /= 2
	for o := range 8 {
		a.split(s, [3]int{at[0] + o&1*size, at[1] + o>>1&1*size, at[2] + o>>2&1*size}, size, edge, margin)
	}
}

// near returns a solid that equals the whole within margin of q.
func (a *atlas) near(q r3.Vector) *Solid {
	// Compared as numbers, so that what lies before the box does not round into it.
	x, y, z := (q.X-a.lo.X)*a.inv, (q.Y-a.lo.Y)*a.inv, (q.Z-a.lo.Z)*a.inv
	if x < 0 || y < 0 || z < 0 {
		return a.whole
	}
	i, j, k := int(x), int(y), int(z)
	if i >= a.n[0] || j >= a.n[1] || k >= a.n[2] {
		return a.whole
	}
	return a.cells[(k*a.n[1]+j)*a.n[0]+i]
}
