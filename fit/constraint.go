package fit

import (
	"math"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/floats"

	"spotface/mesh/geom"
)

// hold is what a fit must not change, in scaled units.
type hold struct {
	radius        bool
	direction     bool      // w stays
	w             r3.Vector // where direction
	perpendicular r3.Vector // w stays perpendicular to it, unless zero
	axis          bool      // w stays, and the centre on the line through on
	on            r3.Vector // the point of it next to the anchor
}

func newHold(c *cloud, opt Options) (h hold) {
	h.radius = opt.Radius > 0
	h.perpendicular = geom.Unit(opt.Perpendicular)
	if opt.Direction != (r3.Vector{}) {
		h.direction, h.w = true, geom.Unit(opt.Direction)
	}
	if opt.Axis.Direction != (r3.Vector{}) {
		h.direction, h.axis, h.w = true, true, geom.Unit(opt.Axis.Direction)
		on := c.in(opt.Axis.Point)
		h.on = on.Sub(h.w.Mul(on.Dot(h.w)))
	}
	return h
}

// taken returns what is held in the space of the parameters.
func (m *round) taken() (h held) {
	a := &m.next
	if m.hold.radius {
		var v [maxParams]float64
		v[m.form.k] = 1
		h.take(v)
	}
	if m.hold.axis { // the centre is at + n/k
		h.take([maxParams]float64{1: 1})
		h.take([maxParams]float64{0: 1, 2: -1 / (a.k * a.k)})
	}
	if m.hold.direction && m.form.params > 3 {
		h.take([maxParams]float64{3: 1})
		h.take([maxParams]float64{4: 1})
	}
	// (w + αn + βt)·d = 0
	h.take([maxParams]float64{3: m.hold.perpendicular.Dot(a.n), 4: m.hold.perpendicular.Dot(a.t)})
	return h
}

// held are directions in the space of a model's parameters, orthonormal, along
// which it must not move.
type held struct {
	n int
	v [4][maxParams]float64
}

// take adds a direction, which must be perpendicular to those before; zero is none.
func (h *held) take(v [maxParams]float64) {
	var s float64
	for _, x := range v {
		s += x * x
	}
	if s == 0 {
		return
	}
	for i := range v {
		v[i] /= math.Sqrt(s)
	}
	h.v[h.n] = v
	h.n++
}

// projector is P = I - Σ vv', which takes from x what lies along the held directions.
func (h *held) projector() (p matrix) {
	for i := range p {
		p[i][i] = 1
		for _, v := range h.v[:h.n] {
			for j := range p {
				p[i][j] -= v[i] * v[j]
			}
		}
	}
	return p
}

// holder is a model of which some freedom is taken.
type holder interface {
	// taken returns what is held, at the trial state.
	taken() held
}

// hold takes the freedom that m does not have from the normal equations:
// A' = PAP + τ(I - P), g' = Pg, so that a step leaves what is held.
func (s *sums) hold(m model) {
	h, ok := m.(holder)
	if !ok {
		return
	}
	s.held = h.taken()
	if s.held.n == 0 {
		return
	}
	p := m.params()
	var tau float64
	for i := range p {
		tau += s.a[i][i] / float64(p)
		for j := range i {
			s.a[i][j] = s.a[j][i]
		}
	}
	free := s.held.projector()
	s.a = propagate(&free, &s.a, p)
	for i := range p {
		for j := range p {
			s.a[i][j] -= tau * free[i][j]
		}
		s.a[i][i] += tau
	}
	s.g = times(&free, &s.g)
}

func times(m *matrix, x *[maxParams]float64) (out [maxParams]float64) {
	for i := range m {
		out[i] = floats.Dot(m[i][:], x[:])
	}
	return out
}
