package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// moments are the weighted means up to fourth order of centred points: enough
// to tell, for any direction of an axis and without another look at the
// points, how well a circle, cylinder or cone about it would fit.
type moments struct {
	n int
	// m are the means of the ten monomials' products: 1, x, y, z, xx, xy, xz,
	// yy, yz, zz, upper part.
	m [10][10]float64
}

// add sums the moments of c.
func (g *moments) add(c *cloud) {
	var weight float64
	for lo := 0; lo < len(c.x); lo += chunk {
		var part [10][10]float64
		var pw float64
		for i := lo; i < min(lo+chunk, len(c.x)); i++ {
			x, y, z, w := c.x[i], c.y[i], c.z[i], 1.0
			if c.sw != nil {
				w = c.sw[i] * c.sw[i]
			}
			v := [10]float64{1, x, y, z, x * x, x * y, x * z, y * y, y * z, z * z}
			for a := 4; a < 10; a++ {
				t := v[a] * w
				for b := range a + 1 {
					part[b][a] += t * v[b]
				}
			}
			pw += w
			for a := range 4 {
				part[0][a] += w * v[a]
			}
		}
		for a := range 10 {
			for b := range a + 1 {
				g.m[b][a] += part[b][a]
			}
		}
		weight += pw
	}
	for a := range 10 {
		for b := range a + 1 {
			g.m[b][a] /= weight
		}
	}
	// Products of coordinates are themselves monomials.
	sq := [3][3]int{{4, 5, 6}, {5, 7, 8}, {6, 8, 9}}
	for a := range 3 {
		for b := a; b < 3; b++ {
			g.m[a+1][b+1] = g.m[0][sq[a][b]]
		}
	}
	for a := range 10 {
		for b := range a {
			g.m[a][b] = g.m[b][a]
		}
	}
	g.n = c.n
}

// scatter is the covariance of the points.
func (g *moments) scatter() (s matrix) {
	for a := range 3 {
		for b := range 3 {
			s[a][b] = g.m[a+1][b+1] - g.m[0][a+1]*g.m[0][b+1]
		}
	}
	return s
}

// principal returns the principal directions, of the least spread first, and
// the mean squares along them.
func (g *moments) principal() (val [3]float64, dir [3]r3.Vector) {
	s := g.scatter()
	v, e := eigen(&s, 3)
	for i := range 3 {
		val[i] = v[i]
		dir[i] = r3.Vector{X: e[0][i], Y: e[1][i], Z: e[2][i]}
	}
	return val, dir
}

// lin and quad are the coefficients of a linear and of a quadratic form over
// the ten monomials.
func lin(v r3.Vector) [10]float64 { return [10]float64{0, v.X, v.Y, v.Z} }

func quad(a, b r3.Vector) [10]float64 {
	return [10]float64{0, 0, 0, 0,
		a.X * b.X, a.X*b.Y + a.Y*b.X, a.X*b.Z + a.Z*b.X,
		a.Y * b.Y, a.Y*b.Z + a.Z*b.Y, a.Z * b.Z}
}

// cov returns the covariance of two forms.
func (g *moments) cov(a, b *[10]float64) float64 {
	var s, ma, mb float64
	for i := 1; i < 10; i++ {
		if a[i] == 0 {
			continue
		}
		var t float64
		for j := 1; j < 10; j++ {
			t += g.m[i][j] * b[j]
		}
		s += a[i] * t
	}
	for i := 1; i < 10; i++ {
		ma += a[i] * g.m[0][i]
		mb += b[i] * g.m[0][i]
	}
	return s - ma*mb
}

func (g *moments) mean(a *[10]float64) (s float64) {
	for i := 1; i < 10; i++ {
		s += a[i] * g.m[0][i]
	}
	return s
}

// taubin fits A|v|² + b·v + D = 0 over the components v along the given
// directions by Taubin's method: least mean of F² at mean of |∇F|² one. It
// returns a circle's (or sphere's) coefficients and the mean square distance
// that they stand for.
func (g *moments) taubin(dirs []r3.Vector) (a float64, b [3]float64, d, ms float64) {
	var sq [10]float64
	var l [3][10]float64
	for i, e := range dirs {
		l[i] = lin(e)
		q := quad(e, e)
		for k := range q {
			sq[k] += q[k]
		}
	}
	n := len(dirs)
	z := g.mean(&sq)
	root := 2 * math.Sqrt(z)
	var m matrix
	m[0][0] = g.cov(&sq, &sq) / (root * root)
	for i := range n {
		m[0][i+1] = g.cov(&sq, &l[i]) / root
		for j := i; j < n; j++ {
			m[i+1][j+1] = g.cov(&l[i], &l[j])
		}
	}
	val, v := eigen(&m, n+1)
	a = v[0][0] / root
	for i := range n {
		b[i] = v[i+1][0]
	}
	return a, b, -a * z, max(val[0], 0)
}

// arcOf makes an arc about w from the coefficients of A|v|² + b·v + D = 0.
func arcOf(a float64, b r3.Vector, d float64, w r3.Vector) arc {
	if a < 0 {
		a, b, d = -a, b.Mul(-1), -d
	}
	// On the ray from the origin along n0 = b/|b|: a s² + |b| s + d = 0; the
	// centre is at -b/2a, the gradient at the near root has length g.
	nb := b.Norm()
	g := math.Sqrt(max(nb*nb-4*a*d, 0))
	var n0 r3.Vector
	if nb > 1e-9*g {
		n0 = unit(b)
	} else {
		n0, _ = Frame(w)
	}
	n0 = unit(n0.Sub(w.Mul(n0.Dot(w))))
	if g == 0 {
		return flatAt(r3.Vector{}, n0.Mul(-1), w)
	}
	s := -2 * d / (nb + g)
	out := flatAt(n0.Mul(s), n0.Mul(-1), w)
	out.k = 2 * a / g
	return out
}

func (g *moments) taubin2() arc {
	a, b, d, _ := g.taubin([]r3.Vector{{X: 1}, {Y: 1}})
	return arcOf(a, r3.Vector{X: b[0], Y: b[1]}, d, r3.Vector{Z: 1})
}

// line2 is the best line in the plane z = 0 as an arc without curvature.
func (g *moments) line2() arc {
	s := g.scatter()
	th := math.Atan2(2*s[0][1], s[0][0]-s[1][1]) / 2
	n := r3.Vector{X: -math.Sin(th), Y: math.Cos(th)}
	return flatAt(r3.Vector{}, n, r3.Vector{Z: 1})
}

// bent reports whether the points spread so little along an arc that a start
// from a line may find another minimum.
func (g *moments) bent(a arc) bool {
	s := g.scatter()
	return math.Abs(a.k)*math.Sqrt(s[0][0]+s[1][1]) < 0.2
}
