package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
)

// bend is the surfaces of second degree over points of a face: an orthonormal base of
// them, a row a point. A face that is bent as a whole would pass for noise that hangs
// together over all of it, so they are taken out of its heights; and six waves of the
// noise with them.
type bend struct {
	pts  []r3.Vector
	base *mat.Dense // nil if there are none
}

// bendOf returns the surfaces over pts, at least one.
func bendOf(pts []r3.Vector) bend {
	var mean r3.Vector
	for _, p := range pts {
		mean = mean.Add(p.Mul(1 / float64(len(pts))))
	}
	size := notZero
	for _, p := range pts {
		size = max(size, p.Sub(mean).Norm())
	}
	x := mat.NewDense(len(pts), 6, nil)
	for i, p := range pts {
		d := p.Sub(mean).Mul(1 / size)
		x.SetRow(i, []float64{1, d.X, d.Y, d.X * d.X, d.X * d.Y, d.Y * d.Y})
	}
	b := bend{pts: pts}
	var svd mat.SVD
	if !svd.Factorize(x, mat.SVDThin) {
		return b
	}
	var u mat.Dense
	svd.UTo(&u)
	// Less than six of points on a line.
	b.base = mat.DenseCopyOf(u.Slice(0, len(pts), 0, svd.Rank(bendRank)))
	return b
}

// takeOut takes the surfaces out of heights over the points, by least squares.
func (b bend) takeOut(height []float64) {
	if b.base == nil {
		return
	}
	h := mat.NewVecDense(len(height), height)
	var beta, bent mat.VecDense
	beta.MulVec(b.base.T(), h)
	bent.MulVec(b.base, &beta)
	h.SubVec(h, &bent)
}

// taken returns what takeOut takes of noise of unit variance and the covariance
// exp(-d²/2L²): of its variance, and, the mean over pairs of points as far apart as those
// of each bin of c, of its covariance. With K the covariance of the points and Q the
// base, QQᵀK + KQQᵀ - QQᵀKQQᵀ is taken. Few points stand for many here: a point's
// covariance with itself, of which they have too much, is left out of K.
func (b bend) taken(length float64, c *Covariogram) (variance float64, inBin []float64) {
	bins := c.Bins()
	inBin = make([]float64, len(bins))
	if b.base == nil {
		return 0, inBin
	}
	n, m := b.base.Dims()
	k := mat.NewSymDense(n, nil)
	for i, p := range b.pts {
		for j := i + 1; j < n; j++ {
			kernel := math.Exp(-p.Sub(b.pts[j]).Norm2() / (2 * length * length))
			k.SetSym(i, j, float64(n)/float64(n-1)*kernel)
		}
	}
	var kq, qkq, half mat.Dense
	kq.Mul(k, b.base)
	qkq.Mul(b.base.T(), &kq)
	half.Mul(b.base, &qkq) // QQᵀKQ, half of which goes to either side
	half.Scale(-0.5, &half)
	half.Add(&half, &kq)
	pairs := make([]float64, len(bins))
	for i, p := range b.pts {
		qi, hi := b.base.RawRowView(i), half.RawRowView(i)
		for j, o := range b.pts[:i+1] {
			qj, hj := b.base.RawRowView(j), half.RawRowView(j)
			var t float64
			for l := range m {
				t += qi[l]*hj[l] + hi[l]*qj[l]
			}
			if i == j {
				variance += t / float64(n)
			} else if at := c.Bin(p.Distance(o)); at >= 0 {
				inBin[at] += t
				pairs[at]++
			}
		}
	}
	near := variance // for bins without pairs
	for at, of := range pairs {
		if of > 0 {
			near = inBin[at] / of
		}
		inBin[at] = near
	}
	return variance, inBin
}
