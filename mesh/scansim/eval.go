package scansim

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
)

func tan(a s1.Angle) float64 { return math.Tan(a.Radians()) }

// at returns a signed distance of q: exact near a face, never larger in size
// than the true distance elsewhere, but for form; negative inside.
func (s *Solid) at(q r3.Vector) float64 {
	v, _ := s.active(q)
	return v
}

// active returns the distance as at does, and the leaf that it comes from.
func (s *Solid) active(q r3.Vector) (float64, *Solid) {
	if s.op == opLeaf {
		return s.value(q), s
	}
	v, from := s.kids[0].active(q)
	for _, k := range s.kids[1:] {
		if d, f := k.active(q); d < v == (s.op == opUnion) && d != v {
			v, from = d, f
		}
	}
	return v, from
}

// prune returns s less what cannot decide its value within reach of q, and the
// value at q. A distance changes by at most reach there, and form by the slack,
// so a branch more than twice that behind the leading one never leads.
func (s *Solid) prune(q r3.Vector, reach float64) (*Solid, float64) {
	if s.op == opLeaf {
		return s, s.value(q)
	}
	kids := make([]*Solid, len(s.kids))
	vals := make([]float64, len(s.kids))
	lead := math.Inf(1)
	dir := 1.0 // so that dir*value leads where it is least
	if s.op == opMeet {
		dir = -1
	}
	for i, k := range s.kids {
		kids[i], vals[i] = k.prune(q, reach)
		lead = min(lead, dir*vals[i])
	}
	n := 0
	for i, k := range kids {
		if dir*vals[i] <= lead+2*(reach+s.slack) {
			kids[n] = k
			n++
		}
	}
	if n == 1 {
		return kids[0], dir * lead
	}
	return combine(s.op, kids[:n]), dir * lead
}

// fill writes the values of s at the points p + i*step into out. scratch has
// room for depth rows of the same length.
func (s *Solid) fill(p, step r3.Vector, out []float64, scratch [][]float64) {
	if s.op == opLeaf {
		s.leaf.face.fill(s.sign, p, step, out)
		if s.leaf.form != nil {
			s.fillForm(p, step, out)
		}
		return
	}
	s.kids[0].fill(p, step, out, scratch[1:])
	row := scratch[0][:len(out)]
	for _, k := range s.kids[1:] {
		k.fill(p, step, row, scratch[1:])
		if s.op == opUnion {
			for i, v := range row {
				if v < out[i] {
					out[i] = v
				}
			}
		} else {
			for i, v := range row {
				if v > out[i] {
					out[i] = v
				}
			}
		}
	}
}

// depth returns the height of the tree.
func (s *Solid) depth() int {
	d := 0
	for _, k := range s.kids {
		d = max(d, k.depth())
	}
	return d + 1
}

// fill is raw along a row of points, times sign.
func (f *Face) fill(sign float64, p, step r3.Vector, out []float64) {
	q := p.Sub(f.Point)
	h, dh := q.Dot(f.Axis), step.Dot(f.Axis)
	if f.Shape == Plane || f.Shape == Freeform {
		for i := range out {
			out[i] = sign * (h + float64(i)*dh)
		}
		return
	}
	// |q + i step|² - (h + i dh)² = a + 2 b i + c i²
	a := q.Norm2() - h*h
	b := q.Dot(step) - h*dh
	c := step.Norm2() - dh*dh
	sin, cos := 0.0, 1.0
	if f.Shape == Cone {
		sin, cos = math.Sincos(f.HalfAngle.Radians())
	}
	for i := range out {
		t := float64(i)
		w := math.Sqrt(max(0, a+t*(2*b+t*c)))
		if f.Shape == Torus {
			out[i] = sign * (math.Hypot(w-f.Radius, h+t*dh) - f.Minor)
			continue
		}
		out[i] = sign * (w*cos - (h+t*dh)*sin - f.Radius)
	}
}
