package bolt

import (
	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
)

// unbend takes the surface of second degree that is nearest to the heights over pts out
// of them, by least squares: a face that is bent as a whole would pass for noise that
// hangs together over all of it. It takes six waves of the noise with it, which are few
// where the face is much longer than they.
func unbend(pts []r3.Vector, height []float64) {
	var mean r3.Vector
	for _, p := range pts {
		mean = mean.Add(p.Mul(1 / float64(len(pts))))
	}
	size := 1e-300
	for _, p := range pts {
		size = max(size, p.Sub(mean).Norm())
	}
	x := mat.NewDense(len(pts), 6, nil)
	for i, p := range pts {
		d := p.Sub(mean).Mul(1 / size)
		x.SetRow(i, []float64{1, d.X, d.Y, d.X * d.X, d.X * d.Y, d.Y * d.Y})
	}
	var svd mat.SVD
	h := mat.NewVecDense(len(height), height)
	if !svd.Factorize(x, mat.SVDThin) {
		return
	}
	var beta, bent mat.VecDense
	svd.SolveVecTo(&beta, h, svd.Rank(1e-9)) // less than six of points on a line
	bent.MulVec(x, &beta)
	h.SubVec(h, &bent)
}
