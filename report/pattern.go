package report

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"spotface/bolt"
	"spotface/mesh/geom"
)

// pattern is a ring of holes against its nominal angles, linear about the
// measured circle. Hole i lies y_i = (along, out), mm, from its nominal place;
// moving the pattern by (a, b), turning it by w and widening it by q makes
//
//	along_i = -a sin f_i + b cos f_i + w        out_i = a cos f_i + b sin f_i + q
//
// with f_i its nominal direction and w in mm along the circle. Least squares with
// the inverse of the centres' covariances as weights uses both directions for the
// place of the pattern, and so tells a hole that is off better than angles about
// the circle's centre do: with n equal holes the others predict its place along
// the circle with s² (1 + 2/(n-1)), and the circle's centre with s² (1 + 3/(n-1)).
type pattern struct {
	y   [][2]float64
	row [][2][4]float64
	cov [][2][2]float64 // of y_i
}

func newPattern(c *BoltCircle, holes []bolt.Hole, nominal []float64) pattern {
	e1, e2 := geom.Basis(c.Axis.R3())
	n := len(holes)
	p := pattern{y: make([][2]float64, n), row: make([][2][4]float64, n), cov: make([][2][2]float64, n)}
	angle, radius := make([]float64, n), make([]float64, n)
	turn := 0.0
	for i, h := range holes {
		d := h.Centre.Sub(c.Centre.R3())
		x, y := d.Dot(e1), d.Dot(e2)
		radius[i] = math.Hypot(x, y)
		angle[i] = degrees(math.Atan2(y, x)) - nominal[i]
		turn += wrap180(angle[i]-angle[0]) / float64(n)
	}
	turn += angle[0]
	r := c.PitchDiameter / 2
	for i, h := range holes {
		sin, cos := math.Sincos((nominal[i] + turn) * math.Pi / 180)
		p.y[i] = [2]float64{wrap180(angle[i]-turn) * math.Pi / 180 * r, radius[i] - r}
		p.row[i] = [2][4]float64{{-sin, cos, 1, 0}, {cos, sin, 0, 1}}
		v := h.CentreCov
		at := func(a, b [2]float64) float64 {
			return a[0]*(v[0][0]*b[0]+v[0][1]*b[1]) + a[1]*(v[1][0]*b[0]+v[1][1]*b[1])
		}
		t, o := [2]float64{-sin, cos}, [2]float64{cos, sin}
		p.cov[i] = [2][2]float64{{at(t, t), at(t, o)}, {at(o, t), at(o, o)}}
	}
	return p
}

// place is the pattern laid through some of its holes.
type place struct {
	x   *mat.VecDense // a, b, w, q
	inv *mat.SymDense // its covariance
}

// through lays the pattern through the holes idx; false where they do not hold it.
func (p *pattern) through(idx []int) (place, bool) {
	n := mat.NewSymDense(4, nil)
	rhs := mat.NewVecDense(4, nil)
	for _, i := range idx {
		c := p.cov[i]
		det := c[0][0]*c[1][1] - c[0][1]*c[1][0]
		if !(det > 0) {
			return place{}, false
		}
		w := [2][2]float64{{c[1][1] / det, -c[0][1] / det}, {-c[1][0] / det, c[0][0] / det}}
		for a := range 4 {
			for k := range 2 {
				g := p.row[i][0][a]*w[0][k] + p.row[i][1][a]*w[1][k]
				rhs.SetVec(a, rhs.AtVec(a)+g*p.y[i][k])
				for b := a; b < 4; b++ {
					n.SetSym(a, b, n.At(a, b)+g*p.row[i][k][b])
				}
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(n) || chol.Cond() > 1e12 {
		return place{}, false
	}
	out := place{x: mat.NewVecDense(4, nil), inv: mat.NewSymDense(4, nil)}
	if chol.SolveVecTo(out.x, rhs) != nil || chol.InverseTo(out.inv) != nil {
		return place{}, false
	}
	return out, true
}

// off returns how far hole i lies from its place, along and out, mm.
func (p *pattern) off(l place, i int) (d [2]float64) {
	for k := range 2 {
		row := mat.NewVecDense(4, p.row[i][k][:])
		d[k] = p.y[i][k] - mat.Dot(row, l.x)
	}
	return d
}

// ratio returns off in standard uncertainties of a hole that the place was not
// laid through.
func (p *pattern) ratio(l place, i int) (r [2]float64) {
	d := p.off(l, i)
	for k := range 2 {
		row := mat.NewVecDense(4, p.row[i][k][:])
		r[k] = math.Abs(d[k]) / math.Sqrt(p.cov[i][k][k]+mat.Inner(row, l.inv, row))
	}
	return r
}
