package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// moments are the weighted means up to fourth order of centred points: enough
// to tell, for any direction of an axis and without another look at the
// points, how well a circle, cylinder or cone about it would fit.
type moments struct {
	// m are the means of the ten monomials' products: 1, x, y, z, xx, xy, xz,
	// yy, yz, zz, upper part.
	m [10][10]float64
	// c are the covariances of the nine monomials without the 1.
	c [9][9]float64
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
	for a := range 9 {
		for b := range 9 {
			g.c[a][b] = g.m[a+1][b+1] - g.m[0][a+1]*g.m[0][b+1]
		}
	}
}

// about returns, for the direction w, the covariances of the square of the
// distance from the axis through the centroid along w: with itself, with that
// of the height, and with x, y and z; and those of the square of the height.
// Both squares are forms over the six quadratic monomials.
func (g *moments) about(w r3.Vector) (ss, sh, hh float64, sx, hx r3.Vector, ms, mh float64) {
	h := [6]float64{w.X * w.X, 2 * w.X * w.Y, 2 * w.X * w.Z, w.Y * w.Y, 2 * w.Y * w.Z, w.Z * w.Z}
	s := [6]float64{1 - h[0], -h[1], -h[2], 1 - h[3], -h[4], 1 - h[5]}
	for i := range 6 {
		row := g.c[i+3][3:9]
		var ts, th float64
		for j, v := range row {
			ts += v * s[j]
			th += v * h[j]
		}
		ss += s[i] * ts
		sh += s[i] * th
		hh += h[i] * th
		lin := g.c[i+3][:3]
		sx = r3.Vector{X: sx.X + s[i]*lin[0], Y: sx.Y + s[i]*lin[1], Z: sx.Z + s[i]*lin[2]}
		hx = r3.Vector{X: hx.X + h[i]*lin[0], Y: hx.Y + h[i]*lin[1], Z: hx.Z + h[i]*lin[2]}
		ms += s[i] * g.m[0][i+4]
		mh += h[i] * g.m[0][i+4]
	}
	return ss, sh, hh, sx, hx, ms, mh
}

// across is the covariance of the points' coordinates along two directions.
func (g *moments) across(a, b r3.Vector) float64 {
	c := &g.c
	return a.X*(b.X*c[0][0]+b.Y*c[0][1]+b.Z*c[0][2]) +
		a.Y*(b.X*c[1][0]+b.Y*c[1][1]+b.Z*c[1][2]) +
		a.Z*(b.X*c[2][0]+b.Y*c[2][1]+b.Z*c[2][2])
}

// circleMatrix is the scatter of (ρ²/2√mean ρ², v1, v2) for an axis along w,
// whose least eigenvalue is the mean square distance; and the mean of ρ².
func (g *moments) circleMatrix(w r3.Vector) (m matrix, mean float64) {
	e1, e2 := Frame(w)
	ss, _, _, sx, _, mean, _ := g.about(w)
	root := 2 * math.Sqrt(mean)
	m[0][0] = ss / (root * root)
	m[0][1], m[0][2] = sx.Dot(e1)/root, sx.Dot(e2)/root
	m[1][1], m[1][2], m[2][2] = g.across(e1, e1), g.across(e1, e2), g.across(e2, e2)
	return m, mean
}

// taubinAbout fits A ρ² + b·v + D = 0, v across w, by Taubin's method: least
// mean of F² at mean of |∇F|² one. It returns the coefficients and the mean
// square distance that they stand for.
func (g *moments) taubinAbout(w r3.Vector) (a float64, b r3.Vector, d, ms float64) {
	e1, e2 := Frame(w)
	m, mean := g.circleMatrix(w)
	root := 2 * math.Sqrt(mean)
	val, v := eigen(&m, 3)
	a = v[0][0] / root
	return a, e1.Mul(v[1][0]).Add(e2.Mul(v[2][0])), -a * mean, max(val[0], 0)
}

// taubinSphere is the like in space: A|p|² + b·p + D = 0.
func (g *moments) taubinSphere() (a float64, b r3.Vector, d float64) {
	var mean float64
	var ss float64
	var sx [3]float64
	diag := [3]int{3, 6, 8} // xx, yy, zz
	for _, i := range diag {
		mean += g.m[0][i+1]
		for _, j := range diag {
			ss += g.c[i][j]
		}
		for k := range 3 {
			sx[k] += g.c[i][k]
		}
	}
	root := 2 * math.Sqrt(mean)
	var m matrix
	m[0][0] = ss / (root * root)
	for i := range 3 {
		m[0][i+1] = sx[i] / root
		for j := i; j < 3; j++ {
			m[i+1][j+1] = g.c[i][j]
		}
	}
	_, v := eigen(&m, 4)
	a = v[0][0] / root
	return a, r3.Vector{X: v[1][0], Y: v[2][0], Z: v[3][0]}, -a * mean
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
	w := r3.Vector{Z: 1}
	a, b, d, _ := g.taubinAbout(w)
	return arcOf(a, b, d, w)
}

// line2 is the best line in the plane z = 0 as an arc without curvature.
func (g *moments) line2() arc {
	th := math.Atan2(2*g.c[0][1], g.c[0][0]-g.c[1][1]) / 2
	n := r3.Vector{X: -math.Sin(th), Y: math.Cos(th)}
	return flatAt(r3.Vector{}, n, r3.Vector{Z: 1})
}

// bent reports whether the points spread so little along an arc that a start
// from a line may find another minimum.
func (g *moments) bent(a arc) bool {
	return math.Abs(a.k)*math.Sqrt(g.c[0][0]+g.c[1][1]) < 0.2
}
