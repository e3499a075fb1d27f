package scansim

import (
	"fmt"
	"math"
	"path"
	"slices"

	"github.com/golang/geo/r3"
)

// Form is how far the real surface of a face stands off its ideal shape: a bow,
// dents, cast texture. It is part of the part, unlike a scan's noise, and both
// kinds of scan show it. Truth keeps the ideal shape of each face; Part.Form
// says what form does to it.
type Form struct {
	Kind string // "bow", "dents", ...
	// Height returns how far the surface stands out of the material, mm, at a
	// point of the ideal face with the given outward normal, in the part's frame.
	// It is called from several goroutines.
	Height func(foot, normal r3.Vector) float64
	// Max bounds the size of Height, mm; Slope bounds its slope along the face.
	Max, Slope float64
}

// relief is all form of one face.
type relief struct {
	forms      []Form
	max, slope float64
}

func (r *relief) height(foot, normal r3.Vector) float64 {
	h := 0.0
	for i := range r.forms {
		h += r.forms[i].Height(foot, normal)
	}
	return h
}

// with returns r with one more form; a nil r has none.
func (r *relief) with(f Form) *relief {
	if r == nil {
		r = &relief{}
	}
	return &relief{append(slices.Clone(r.forms), f), r.max + f.Max, r.slope + f.Slope}
}

// WithForm returns p with form on the faces whose roles match one of the
// patterns, as path.Match has them: "mounting", "hole:*", "*". Forms add up.
// Heights and slopes are small against the part: faces stay in their box to
// within Max.
func WithForm(p *Part, form Form, roles ...string) *Part {
	c := *p
	c.Faces, c.leaves = nil, nil
	matches := func(role string) bool {
		return slices.ContainsFunc(roles, func(pattern string) bool {
			ok, err := path.Match(pattern, role)
			return ok && err == nil
		})
	}
	c.solid = c.adopt(p.solid, map[*leaf]*leaf{})
	some := false
	for _, l := range c.leaves {
		if !matches(l.face.Role) {
			continue
		}
		some = true
		l.form = l.form.with(form)
	}
	c.solid.bound()
	if !some {
		c.err = fmt.Errorf("simulate %s: no face is called %q, which is to have a %s", p.Name, roles, form.Kind)
	}
	return &c
}

// bound computes how far form takes the values of s from ideal distances.
func (s *Solid) bound() {
	s.slack, s.slope = 0, 0
	if s.op == opLeaf && s.leaf.form != nil {
		s.slack, s.slope = 2*s.leaf.form.max, s.leaf.form.slope
	}
	for _, k := range s.kids {
		k.bound()
		s.slack, s.slope = max(s.slack, k.slack), max(s.slope, k.slope)
	}
}

// value returns the signed distance of q from a leaf's ideal face, less the
// height of its form at q's foot: exactly zero on the formed face.
func (s *Solid) value(q r3.Vector) float64 {
	d := s.sign * s.leaf.face.raw(q)
	r := s.leaf.form
	if r == nil || math.Abs(d) > r.max+formBand {
		return d
	}
	n := s.leaf.face.Normal(q).Mul(s.sign)
	return d - r.height(q.Sub(n.Mul(d)), n)
}

// fillForm subtracts the form of a leaf from its ideal distances along a row.
func (s *Solid) fillForm(p, step r3.Vector, out []float64) {
	r := s.leaf.form
	band := r.max + max(formBand, 5*step.Norm()) // smoothing looks that far
	for i, d := range out {
		if math.Abs(d) > band {
			continue
		}
		q := p.Add(step.Mul(float64(i)))
		n := s.leaf.face.Normal(q).Mul(s.sign)
		out[i] = d - r.height(q.Sub(n.Mul(d)), n)
	}
}

// lift returns the point of the formed face over the point p of the ideal one.
func (c *chart) lift(p r3.Vector) r3.Vector {
	if c.form == nil {
		return p
	}
	n := c.face.Normal(p)
	return p.Add(n.Mul(c.form.height(p, n)))
}

// normal returns the normal of the formed face over the point p of the ideal
// one.
func (c *chart) normal(p r3.Vector) r3.Vector {
	n := c.face.Normal(p)
	if c.form == nil {
		return n
	}
	// That of a height field is n - ∇h; by central differences.
	const step = 0.02
	tilted := n
	e1 := n.Ortho()
	for _, e := range [2]r3.Vector{e1, n.Cross(e1)} {
		rise := 0.0
		for _, side := range [2]float64{step, -step} {
			at := p.Add(e.Mul(side))
			at = at.Sub(c.face.Normal(at).Mul(c.face.Signed(at)))
			rise += side * c.form.height(at, c.face.Normal(at))
		}
		tilted = tilted.Sub(e.Mul(rise / (2 * step * step)))
	}
	return tilted.Normalize()
}

// formOf returns the form of the face with the given id.
func (s *Solid) formOf(id uint16) *relief {
	if s.op == opLeaf && s.leaf.id == id {
		return s.leaf.form
	}
	for _, k := range s.kids {
		if r := k.formOf(id); r != nil {
			return r
		}
	}
	return nil
}
