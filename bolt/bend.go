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
	x := mat.NewDense(len(pts), 6, nil)
	for i, p := range pts {
		d := p.Sub(mean)
		x.SetRow(i, []float64{1, d.X, d.Y, d.X * d.X, d.X * d.Y, d.Y * d.Y})
	}
	// By Gram and Schmidt's steps, twice; a column that hangs on those before it (points
	// on a line) is left out.
	for k := range 6 {
		col := mat.VecDenseCopyOf(x.ColView(k))
		long := mat.Norm(col, 2)
		for range 2 {
			for j := range k {
				q := x.ColView(j)
				col.AddScaledVec(col, -mat.Dot(q, col), q)
			}
		}
		if left := mat.Norm(col, 2); left > 1e-9*long {
			col.ScaleVec(1/left, col)
		} else {
			col.Zero()
		}
		x.SetCol(k, col.RawVector().Data)
	}
	h := mat.NewVecDense(len(height), height)
	for k := range 6 {
		q := x.ColView(k)
		h.AddScaledVec(h, -mat.Dot(q, h), q)
	}
}
