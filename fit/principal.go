package fit

import (
	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

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
		mean, s = scatterAlong(c, mean, dir)
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
func scatterAlong(c *cloud, near r3.Vector, dir [3]r3.Vector) (r3.Vector, geom.Sym3) {
	var s sums
	newAccumulator(&axes{near, dir}, c).sum(&s)
	g, n := s.g, s.f
	m := r3.Vector{X: g[0] / n, Y: g[1] / n, Z: g[2] / n}
	return near.Add(dir[0].Mul(m.X)).Add(dir[1].Mul(m.Y)).Add(dir[2].Mul(m.Z)), geom.Sym3{
		XX: s.a[0][0]/n - m.X*m.X, XY: s.a[0][1]/n - m.X*m.Y, XZ: s.a[0][2]/n - m.X*m.Z,
		YY: s.a[1][1]/n - m.Y*m.Y, YZ: s.a[1][2]/n - m.Y*m.Z, ZZ: s.a[2][2]/n - m.Z*m.Z,
	}
}

// axes has the points' coordinates along three directions for a Jacobian and one for a
// residual, so that its sums are the points' moments.
type axes struct {
	at  r3.Vector
	dir [3]r3.Vector
}

func (m *axes) params() int                    { return 3 }
func (m *axes) perPoint() int                  { return 1 }
func (m *axes) try(_ *[maxParams]float64) bool { return true }
func (m *axes) accept()                        {}

func (m *axes) rows(c *cloud, lo, hi int, b *block) {
	at, u, v, w := m.at, m.dir[0], m.dir[1], m.dir[2]
	x, y, z := c.x[lo:hi], c.y[lo:hi], c.z[lo:hi]
	for i := range x {
		dx, dy, dz := x[i]-at.X, y[i]-at.Y, z[i]-at.Z
		b.f[i] = 1
		b.j[0][i] = dx*u.X + dy*u.Y + dz*u.Z
		b.j[1][i] = dx*v.X + dy*v.Y + dz*v.Z
		b.j[2][i] = dx*w.X + dy*w.Y + dz*w.Z
	}
}
