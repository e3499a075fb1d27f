package fit

import "github.com/golang/geo/r3"

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
		var s matrix
		mean, s = scatterAlong(c, mean, &dir)
		ev, v := eigen(&s, 3)
		var d [3]r3.Vector
		turned := 0.0
		for k := range 3 {
			d[k] = dir[0].Mul(v[0][k]).Add(dir[1].Mul(v[1][k])).Add(dir[2].Mul(v[2][k]))
			val[k] = ev[k]
			turned += 1 - v[k][k]*v[k][k]
		}
		d[0] = unit(d[0])
		d[1] = unit(d[1].Sub(d[0].Mul(d[1].Dot(d[0]))))
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
func scatterAlong(c *cloud, near r3.Vector, dir *[3]r3.Vector) (r3.Vector, matrix) {
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
	var s matrix
	s[0][0], s[0][1], s[0][2] = m[3]-m[0]*m[0], m[4]-m[0]*m[1], m[5]-m[0]*m[2]
	s[1][1], s[1][2], s[2][2] = m[6]-m[1]*m[1], m[7]-m[1]*m[2], m[8]-m[2]*m[2]
	mean := near.Add(a.Mul(m[0])).Add(b.Mul(m[1])).Add(d.Mul(m[2]))
	return mean, s
}
