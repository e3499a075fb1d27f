package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// modelShape makes a candidate of a model that the solver can iterate.
type modelShape struct {
	m      model
	points int
	make   func(p []r3.Vector) (model, bool)
	copy   func(m model) model
	b      *block
}

func (s *modelShape) need() int { return s.points }

func (s *modelShape) clone() candidateShape {
	o := *s
	if s.m != nil {
		o.m = s.copy(s.m)
	}
	return &o
}

func (s *modelShape) through(c *cloud, at []int) bool {
	var buf [8]r3.Vector
	p := buf[:0]
	for _, i := range at {
		p = append(p, r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]})
	}
	m, ok := s.make(p)
	s.m = m
	return ok
}

func (s *modelShape) refit(c *cloud, maxIter int) bool {
	// One core and its block, used over and over.
	w := crew{m: s.m, c: c, b: s.b, workers: 1}
	r := w.solve(maxIter)
	return !math.IsInf(r.f, 0) && !math.IsNaN(r.f)
}

func (s *modelShape) residuals(c *cloud, r []float64) {
	if m, ok := s.m.(*circle2Model); ok && m.cur.k != 0 {
		ctr, radius := m.cur.centre(), 1/m.cur.k
		sign := math.Copysign(1, radius)
		for i := range r {
			dx, dy := c.x[i]-ctr.X, c.y[i]-ctr.Y
			r[i] = sign*math.Sqrt(dx*dx+dy*dy) - radius
		}
		return
	}
	var zero [maxParams]float64
	s.m.try(&zero)
	per := s.m.perPoint()
	for lo := 0; lo < len(c.x); lo += blockRows / per {
		hi := min(lo+blockRows/per, len(c.x))
		s.m.rows(c, lo, hi, s.b)
		copy(r[lo:hi], s.b.f[:hi-lo])
		if per == 2 {
			for i := range hi - lo {
				r[lo+i] = math.Hypot(r[lo+i], s.b.f[hi-lo+i])
			}
		}
	}
}
