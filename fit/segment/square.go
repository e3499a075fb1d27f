package segment

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// A wall that is a few nodes high between two rounded edges looks bent the wrong way:
// along its height, by what is round of the edges. What is known by then tells its axis:
// walls stand square to faces, mostly.

// mind keeps the direction of a plane that was found for the trials to come.
func (s *searcher) mind(normal r3.Vector) {
	for _, a := range s.ups {
		if math.Abs(a.Dot(normal)) > oneWay {
			return
		}
	}
	if len(s.ups) < mostFaces {
		s.ups = append(s.ups, normal)
		for _, w := range s.ws {
			w.ups = s.ups
		}
	}
}

// square appends the plane and the cylinder that the patch suggests along each of the
// faces' normals, from those of its nodes that may be on such a wall.
func (p *patch) square(ups []r3.Vector, wall *patch, out []shape) []shape {
	for _, a := range ups {
		wall.pos, wall.nrm = wall.pos[:0], wall.nrm[:0]
		var c r3.Vector
		for i, n := range p.nrm {
			if math.Abs(n.Dot(a)) < squareSine {
				wall.pos, wall.nrm = append(wall.pos, p.pos[i]), append(wall.nrm, n)
				c = c.Add(p.pos[i])
			}
		}
		n := float64(len(wall.pos))
		if n < squareMost*float64(len(p.pos)) || n < 8 {
			continue
		}
		c = c.Mul(1 / n)
		out = append(out, wall.planeAlong(a, c))
		if s, ok := wall.circleAbout(a, c); ok {
			out = append(out, s)
		}
	}
	return out
}

// planeAlong is the plane along a direction by the line of least scatter through the
// points laid square to it (Pearson 1901).
func (p *patch) planeAlong(axis, c r3.Vector) shape {
	e1, e2 := geom.Basis(axis)
	var xx, xy, yy float64
	for _, q := range p.pos {
		v := q.Sub(c)
		x, y := v.Dot(e1), v.Dot(e2)
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
	}
	sin, cos := math.Sincos(math.Atan2(2*xy, xx-yy) / 2) // of the line
	return shape{kind: planeKind, p: c, a: e2.Mul(cos).Sub(e1.Mul(sin))}
}

// circleAbout is the cylinder about an axis of a given direction by the circle through
// the points laid square to it, x² + y² + D x + E y + F = 0 by least squares (Kåsa, IEEE
// Transactions on Instrumentation and Measurement 25 (1976) 8-14; from memory): on a wall
// wide beside its height, the normals of which differ by little more than their noise, it
// is the places that tell the radius. c is the points' mean.
func (p *patch) circleAbout(axis, c r3.Vector) (shape, bool) {
	e1, e2 := geom.Basis(axis)
	var a [6]float64
	var b r3.Vector
	for _, q := range p.pos {
		v := q.Sub(c)
		row := r3.Vector{X: v.Dot(e1), Y: v.Dot(e2), Z: 1}
		addOuter(&a, row)
		b = b.Sub(row.Mul(row.X*row.X + row.Y*row.Y))
	}
	x, ok := solve3(a, b)
	if !ok {
		return shape{}, false
	}
	u, v := -x.X/2, -x.Y/2
	s := shape{kind: cylinderKind, a: axis, r: math.Sqrt(u*u + v*v - x.Z), p: c.Add(e1.Mul(u)).Add(e2.Mul(v))}
	return s, s.sane()
}
