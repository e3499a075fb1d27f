package fit

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
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
	e1, e2 := geom.Basis(w)
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
	e1, e2 := geom.Basis(w)
	m, mean := g.circleMatrix(w)
	root := 2 * math.Sqrt(mean)
	v, least := eigen(&m, 3)
	a = v[0] / root
	return a, e1.Mul(v[1]).Add(e2.Mul(v[2])), -a * mean, max(least, 0)
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
	v, _ := eigen(&m, 4)
	a = v[0] / root
	return a, r3.Vector{X: v[1], Y: v[2], Z: v[3]}, -a * mean
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
		n0 = geom.Unit(b)
	} else {
		n0, _ = geom.Basis(w)
	}
	n0 = geom.Unit(n0.Sub(w.Mul(n0.Dot(w))))
	if g == 0 {
		return flatAt(r3.Vector{}, n0.Mul(-1), w)
	}
	s := -2 * d / (nb + g)
	out := flatAt(n0.Mul(s), n0.Mul(-1), w)
	out.k = 2 * a / g
	return out
}

// arcsAbout are the starts of a circle about an axis along w: Taubin's, and where the
// points bend so little that it may be lost in their noise a line.
func (g *moments) arcsAbout(w r3.Vector) []arc {
	a, b, d, _ := g.taubinAbout(w)
	out := []arc{arcOf(a, b, d, w)}
	e1, e2 := geom.Basis(w)
	if math.Abs(out[0].k)*math.Sqrt(g.across(e1, e1)+g.across(e2, e2)) < shallowArc {
		out = append(out, g.lineAbout(w))
	}
	return out
}

// lineAbout is the best line in the plane across w as an arc without curvature.
func (g *moments) lineAbout(w r3.Vector) arc {
	e1, e2 := geom.Basis(w)
	sin, cos := math.Sincos(math.Atan2(2*g.across(e1, e2), g.across(e1, e1)-g.across(e2, e2)) / 2)
	return flatAt(r3.Vector{}, e2.Mul(cos).Sub(e1.Mul(sin)), w)
}

// circleScore is the mean square distance that a cylinder along w would leave.
func (g *moments) circleScore(w r3.Vector) float64 {
	m, _ := g.circleMatrix(w)
	return leastEigen(&m, 3)
}

// coneScore is that of a cone along w.
func (g *moments) coneScore(w r3.Vector) float64 {
	m, _, _ := g.quadricMatrix(w)
	return leastEigen(&m, 5)
}

// coneAbout fits the quadric of revolution A ρ² + C h² + b·v + B h + D = 0
// about the direction w, v across it and h along it, by Taubin's method, from
// the moments. A cylinder, a cone and a plane across w are among these. It
// returns the section at the centroid's height, with φ there.
func (g *moments) coneAbout(w r3.Vector) arc {
	e1, e2 := geom.Basis(w)
	m, mr, mh := g.quadricMatrix(w)
	rootR, rootH := 2*math.Sqrt(mr), 2*math.Sqrt(mh)
	v, _ := eigen(&m, 5)
	ca, ch := v[0]/rootR, v[1]/rootH
	b1, b2, bh := v[2], v[3], v[4]
	d := -ca*mr - ch*mh
	a := arcOf(ca, e1.Mul(b1).Add(e2.Mul(b2)), d, w)
	// On the surface near the anchor, going along h at constant direction from
	// the axis: gradient along h is bh, outward gradient is -(...)·n = g.
	grad := math.Sqrt(max(b1*b1+b2*b2-4*ca*d, 0))
	if ca < 0 {
		bh = -bh
	}
	if grad > 0 {
		a.phi = math.Atan(-bh / grad)
	}
	return a
}

// quadricMatrix is the scatter of (ρ²/2√mean ρ², h²/2√mean h², v1, v2, h) for an
// axis along w, whose least eigenvalue is the mean square distance; and the
// means of ρ² and h².
func (g *moments) quadricMatrix(w r3.Vector) (m matrix, mr, mh float64) {
	e1, e2 := geom.Basis(w)
	ss, sh, hh, sx, hx, mr, mh := g.about(w)
	rootR, rootH := 2*math.Sqrt(mr), 2*math.Sqrt(mh)
	m[0][0], m[0][1], m[1][1] = ss/(rootR*rootR), sh/(rootR*rootH), hh/(rootH*rootH)
	dir := [3]r3.Vector{e1, e2, w}
	for i, e := range dir {
		m[0][i+2], m[1][i+2] = sx.Dot(e)/rootR, hx.Dot(e)/rootH
		for j := i; j < 3; j++ {
			m[i+2][j+2] = g.across(e, dir[j])
		}
	}
	return m, mr, mh
}

// eigen returns the unit eigenvector of the least eigenvalue of the symmetric n×n
// matrix a, of which the upper part is given, and that value.
func eigen(a *matrix, n int) (vec [maxParams]float64, least float64) {
	var flat, v [maxParams * maxParams]float64
	var val [maxParams]float64
	for i := range n {
		for j := range n {
			flat[i*n+j] = a[min(i, j)][max(i, j)]
		}
	}
	geom.EigenSym(flat[:n*n], val[:n], v[:n*n])
	copy(vec[:n], v[:n])
	return vec, val[0]
}

// leastEigen returns the least eigenvalue of the symmetric positive semidefinite n×n
// matrix a (upper part), near enough to rank: the Rayleigh quotient after a few steps
// of inverse iteration (Golub & Van Loan, section 8.2.2). The diagonal is raised above
// rounding, so that the factor exists.
func leastEigen(a *matrix, n int) float64 {
	var l [maxParams * maxParams]float64
	var tr float64
	for i := range n {
		tr += a[i][i]
	}
	for i := range n {
		for j := range i + 1 {
			l[i*n+j] = a[j][i]
		}
		l[i*n+i] += rankShift * tr
	}
	if !geom.Cholesky(l[:n*n], n, 0) {
		return 0
	}
	x := [maxParams]float64{1, -0.6, 0.4, 0.7, -0.3}
	least := 0.0
	for range 4 {
		y := x
		geom.CholeskySolve(l[:n*n], y[:n])
		var xy, yy float64
		for i := range n {
			xy += x[i] * y[i]
			yy += y[i] * y[i]
		}
		// With y = A⁻¹x the quotient y'Ay/y'y is x'y/y'y.
		least = xy / yy
		s := 1 / math.Sqrt(yy)
		for i := range n {
			x[i] = y[i] * s
		}
	}
	return least - rankShift*tr
}

// principal returns the mean of the points (what is left of it after
// centring), their principal directions, right-handed and of the least spread
// first, and the mean squares along them.
//
// The scatter matrix is formed again along the directions found: along them the
// small residuals are multiplied as such and not left over from large squares,
// so the directions come out at rounding level.
func principal(c *cloud) (mean r3.Vector, dir [3]r3.Vector, val [3]float64) {
	dir = [3]r3.Vector{{X: 1}, {Y: 1}, {Z: 1}}
	for range 4 {
		var s geom.Sym3
		mean, s = scatterAlong(c, mean, &dir)
		var v, d [3]r3.Vector
		val, v = s.Eigen()
		turned := 0.0
		for k := range 3 {
			d[k] = dir[0].Mul(v[k].X).Add(dir[1].Mul(v[k].Y)).Add(dir[2].Mul(v[k].Z))
			own := [3]float64{v[k].X, v[k].Y, v[k].Z}[k]
			turned += 1 - own*own
		}
		d[0] = geom.Unit(d[0])
		d[1] = geom.Unit(d[1].Sub(d[0].Mul(d[1].Dot(d[0]))))
		d[2] = d[0].Cross(d[1])
		dir = d
		if turned < 1e-30 {
			break
		}
	}
	return mean, dir, val
}

// scatterAlong returns the mean of c, near the one given, and the scatter
// about it along three directions, over the sum of weights.
func scatterAlong(c *cloud, near r3.Vector, dir *[3]r3.Vector) (r3.Vector, geom.Sym3) {
	a, b, d := dir[0], dir[1], dir[2]
	var total [9]float64
	var weight float64
	for lo := 0; lo < len(c.x); lo += chunk {
		var su, sv, sw, uu, uv, uw, vv, vw, ww, wt float64
		hi := min(lo+chunk, len(c.x))
		for i := lo; i < hi; i++ {
			x, y, z := c.x[i]-near.X, c.y[i]-near.Y, c.z[i]-near.Z
			u := x*a.X + y*a.Y + z*a.Z
			v := x*b.X + y*b.Y + z*b.Z
			w := x*d.X + y*d.Y + z*d.Z
			g := 1.0
			if c.sw != nil {
				g = c.sw[i] * c.sw[i]
			}
			gu, gv, gw := g*u, g*v, g*w
			su += gu
			sv += gv
			sw += gw
			uu += gu * u
			uv += gu * v
			uw += gu * w
			vv += gv * v
			vw += gv * w
			ww += gw * w
			wt += g
		}
		for k, v := range [...]float64{su, sv, sw, uu, uv, uw, vv, vw, ww} {
			total[k] += v
		}
		weight += wt
	}
	for k := range total {
		total[k] /= weight
	}
	m := total
	s := geom.Sym3{
		XX: m[3] - m[0]*m[0], XY: m[4] - m[0]*m[1], XZ: m[5] - m[0]*m[2],
		YY: m[6] - m[1]*m[1], YZ: m[7] - m[1]*m[2], ZZ: m[8] - m[2]*m[2],
	}
	mean := near.Add(a.Mul(m[0])).Add(b.Mul(m[1])).Add(d.Mul(m[2]))
	return mean, s
}
