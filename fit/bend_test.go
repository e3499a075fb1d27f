package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"
)

func TestBendIsTakenOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	var pts []r3.Vector
	var height []float64
	for range 500 {
		x, y := 900+80*rng.Float64(), 30*rng.Float64()
		pts = append(pts, r3.Vector{X: x, Y: y})
		height = append(height, 3+0.01*x-0.02*y+1e-4*x*x-2e-4*x*y+3e-4*y*y)
	}
	bendOf(pts).takeOut(height)
	for _, h := range height {
		assert.InDelta(t, 0, h, 1e-9)
	}
	// On a line there is a parabola only.
	for i := range pts {
		pts[i].Y, height[i] = 0, pts[i].X*pts[i].X
	}
	bendOf(pts).takeOut(height)
	for _, h := range height {
		assert.InDelta(t, 0, h, 1e-6)
	}
}

// What a bend takes of noise is what taking it out of the whole covariance does:
// K - (1 - QQᵀ) K (1 - QQᵀ), entry by entry, of points' covariances with others.
func TestTakenByABend(t *testing.T) {
	const n, length, most = 80, 6.0, 80.0 / 79
	rng := rand.New(rand.NewPCG(4, 3))
	var pts []r3.Vector
	for range n {
		pts = append(pts, r3.Vector{X: 40 * rng.Float64(), Y: 25 * rng.Float64()})
	}
	k := mat.NewSymDense(n, nil)
	m := mat.NewDense(n, n, nil) // 1 - QQᵀ, a column a unit height
	b := bendOf(pts)
	for j, q := range pts {
		unit := make([]float64, n)
		unit[j] = 1
		b.takeOut(unit)
		m.SetCol(j, unit)
		for i, p := range pts[:j] {
			k.SetSym(i, j, most*math.Exp(-p.Sub(q).Norm2()/(2*length*length)))
		}
	}
	var mk, left mat.Dense
	mk.Mul(m, k)
	left.Mul(&mk, m)
	c := NewCovariogram(1, 20, 6)
	want, pairs := make([]float64, 6), make([]float64, 6)
	var of float64
	for i, p := range pts {
		of -= left.At(i, i) / n
		for j, q := range pts[:i] {
			if at := c.Bin(p.Distance(q)); at >= 0 {
				want[at] += k.At(i, j) - left.At(i, j)
				pairs[at]++
			}
		}
	}
	variance, inBin := b.taken(length, c)
	assert.InDelta(t, of, variance, 1e-12)
	for at := range want {
		assert.InDelta(t, want[at]/pairs[at], inBin[at], 1e-12)
	}
}
