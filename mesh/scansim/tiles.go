package scansim

import (
	"math"
	"math/rand/v2"
	"sort"

	"github.com/golang/geo/r3"
)

// chart maps the unit square onto an ideal face so that equal areas stay equal,
// once points are kept with the chance of their share, over all of the face that a
// ball about centre can hold.
type chart struct {
	face   Face
	form   *relief
	e1, e2 r3.Vector
	foot   r3.Vector // origin of the map
	lo, hi float64   // along the axis (cylinder, sphere), or out from the apex (cone)
	half   float64   // plane
	area   float64   // of a face whose share is 1 everywhere
}

func newChart(f Face, centre r3.Vector, radius float64) chart {
	c := chart{face: f, foot: f.Point}
	axis := f.Axis
	if f.Shape == Sphere {
		axis = r3.Vector{Z: 1}
	}
	c.face.Axis = axis
	c.e1 = axis.Ortho()
	c.e2 = axis.Cross(c.e1)
	h := centre.Sub(f.Point).Dot(axis)
	switch f.Shape {
	case Plane, Freeform:
		c.foot = centre.Sub(axis.Mul(h))
		c.half = radius
		c.area = 4 * radius * radius
	case Torus:
		c.area = 2 * math.Pi * (f.Radius + f.Minor) * 2 * math.Pi * f.Minor
	case Cylinder:
		c.lo, c.hi = h-radius, h+radius
		c.area = 2 * math.Pi * f.Radius * (c.hi - c.lo)
	case Sphere:
		c.lo, c.hi = -f.Radius, f.Radius
		c.area = 4 * math.Pi * f.Radius * f.Radius
	case Cone:
		c.hi = centre.Sub(f.Point).Norm() + radius
		c.area = math.Pi * math.Sin(f.HalfAngle.Radians()) * c.hi * c.hi
	}
	return c
}

// at returns the point of (u, v).
func (c *chart) at(u, v float64) r3.Vector {
	switch c.face.Shape {
	case Plane, Freeform:
		return c.foot.Add(c.e1.Mul(c.half * (2*u - 1))).Add(c.e2.Mul(c.half * (2*v - 1)))
	}
	sin, cos := math.Sincos(2 * math.Pi * u)
	var h, w float64
	switch c.face.Shape {
	case Cylinder:
		h, w = c.lo+(c.hi-c.lo)*v, c.face.Radius
	case Sphere: // Archimedes: equal heights hold equal areas
		h = c.lo + (c.hi-c.lo)*v
		w = math.Sqrt(max(0, c.face.Radius*c.face.Radius-h*h))
	case Cone: // the area within s of the apex goes as s²
		sa, ca := math.Sincos(c.face.HalfAngle.Radians())
		s := c.hi * math.Sqrt(v)
		h, w = s*ca, s*sa
	case Torus:
		h, w = math.Sincos(2 * math.Pi * v)
		h, w = h*c.face.Minor, c.face.Radius+w*c.face.Minor
	}
	return c.foot.Add(c.face.Axis.Mul(h)).Add(c.e1.Mul(w * cos)).Add(c.e2.Mul(w * sin))
}

// share is the true area at the point q over that of the chart, at most 1.
func (c *chart) share(q r3.Vector) float64 {
	if c.face.Shape == Torus {
		return q.Sub(c.face.Point).Cross(c.face.Axis).Norm() / (c.face.Radius + c.face.Minor)
	}
	return 1
}

// along returns the length of the way from v = 0 to v at a fixed u.
func (c *chart) along(v float64) float64 {
	switch c.face.Shape {
	case Plane, Freeform:
		return 2 * c.half * v
	case Torus:
		return 2 * math.Pi * c.face.Minor * v
	case Sphere:
		return c.face.Radius * math.Acos(1-2*v)
	case Cone:
		return c.hi * math.Sqrt(v)
	}
	return (c.hi - c.lo) * v
}

// around returns a bound of the length of the way from u = 0 to 1 at v and
// below.
func (c *chart) around(v float64) float64 {
	switch c.face.Shape {
	case Plane, Freeform:
		return 2 * c.half
	case Torus:
		return 2 * math.Pi * (c.face.Radius + c.face.Minor)
	case Cone:
		return 2 * math.Pi * c.hi * math.Sqrt(v) * math.Sin(c.face.HalfAngle.Radians())
	}
	return 2 * math.Pi * c.face.Radius
}

// tile is a piece of a face that the part's surface may contain.
type tile struct {
	chart          *chart
	u0, u1, v0, v1 float64
	solid          *Solid // pruned to what matters here
}

// tiles is the surface of a solid in small pieces, to draw points from.
type tiles struct {
	all []tile
	sum []float64 // of areas up to and with each tile
}

// newTiles covers the surface of s near the faces with tiles of about the given
// size, leaving out those that hold nothing of it. A tile's solid is good for
// points within margin of it.
func newTiles(s *Solid, faces []Face, lo, hi r3.Vector, size, margin float64) *tiles {
	t := &tiles{}
	total := 0.0
	for _, f := range faces {
		c := newChart(f, lo.Add(hi).Mul(0.5), hi.Sub(lo).Norm()/2)
		c.form = s.formOf(f.ID)
		var split func(s *Solid, u0, u1, v0, v1 float64)
		split = func(s *Solid, u0, u1, v0, v1 float64) {
			vm := (v0 + v1) / 2
			du := c.around(v1) * (u1 - u0) / 2
			dv := max(c.along(v1)-c.along(vm), c.along(vm)-c.along(v0))
			reach := du + dv
			kept, d := s.prune(c.at((u0+u1)/2, vm), reach+margin)
			if math.Abs(d) > reach+s.slack {
				return
			}
			if reach < size {
				total += c.area * (u1 - u0) * (v1 - v0)
				t.all = append(t.all, tile{&c, u0, u1, v0, v1, kept})
				t.sum = append(t.sum, total)
				return
			}
			if um := (u0 + u1) / 2; du > dv {
				split(kept, u0, um, v0, v1)
				split(kept, um, u1, v0, v1)
			} else {
				split(kept, u0, u1, v0, vm)
				split(kept, u0, u1, vm, v1)
			}
		}
		split(s, 0, 1, 0, 1)
	}
	return t
}

// draw returns a random point of the tiles' ideal faces, uniform by area, and its
// tile. It may lie off the part once lifted: see on.
func (t *tiles) draw(rng *rand.Rand) (r3.Vector, *tile) {
	want := rng.Float64() * t.sum[len(t.sum)-1]
	i := min(sort.SearchFloat64s(t.sum, want), len(t.all)-1)
	c := &t.all[i]
	return c.chart.at(c.u0+(c.u1-c.u0)*rng.Float64(), c.v0+(c.v1-c.v0)*rng.Float64()), c
}

// on reports whether the point q of the tile is on the solid's surface.
func (t *tile) on(q r3.Vector) bool {
	d, from := t.solid.active(q)
	return math.Abs(d) < 1e-9 && from.leaf.id == t.chart.face.ID
}
