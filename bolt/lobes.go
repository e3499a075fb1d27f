package bolt

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// lobes is the largest amplitude, mm, of k = 2, 3 or 4 waves a turn in the
// distances of points from the disc: each by least squares with the disc's place
// and radius, and as much as it makes of the points' variance, so that what an arc
// does not show does not count. A slot has two waves, a square with rounded corners
// four.
func (d disc) lobes(pts [][2]float64) float64 {
	const n = 5
	most := 0.0
	for k := 2; k <= 4; k++ {
		a := mat.NewSymDense(n, nil)
		b := mat.NewVecDense(n, nil)
		for i, p := range pts {
			w := d.weight[i]
			if w == 0 {
				continue
			}
			t := math.Atan2(p[1]-d.y, p[0]-d.x)
			sin, cos := math.Sincos(t)
			sk, ck := math.Sincos(float64(k) * t)
			e := math.Hypot(p[0]-d.x, p[1]-d.y) - d.r
			row := [n]float64{cos, sin, 1, ck, sk}
			for p := range n {
				for q := p; q < n; q++ {
					a.SetSym(p, q, a.At(p, q)+w*row[p]*row[q])
				}
				b.SetVec(p, b.AtVec(p)+w*row[p]*e)
			}
		}
		var chol mat.Cholesky
		var x mat.VecDense
		if !chol.Factorize(a) || chol.SolveVecTo(&x, b) != nil {
			continue
		}
		most = max(most, 2*mat.Dot(&x, b)/a.At(2, 2))
	}
	return math.Sqrt(most)
}
