package segment

import (
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// guess is a shape that a few points suggest.
type guess struct {
	shape
	dof   int // points that settle it
	votes int // of the points around the seed that lie on it
}

// guesses appends the shapes that seed and its free neighbours nb suggest: each
// kind through as few points as settle it (Fischler & Bolles 1981), the seed
// always among them; about directions and axes that are known, fewer. Only
// those that more neighbours lie on than settle them are kept.
func (x *sharp) guesses(seed int32, nb []int32, out []guess) []guess {
	out = out[:0]
	if len(nb) < sharpLeast-3 {
		return out
	}
	add := func(s shape, dof int) {
		if !s.sane() || s.kind != planeKind && (s.r > x.widest || s.kind != coneKind && s.r < 0.2*x.r.tex.Spacing) {
			return
		}
		votes := 1
		for _, q := range nb {
			if _, ok := x.on(&s, q); ok {
				votes++
			}
		}
		if votes >= dof+3 {
			out = append(out, guess{s, dof, votes})
		}
	}
	p := x.at(seed)
	near := nb[:min(len(nb), 10)]
	pick := func() r3.Vector { return x.at(near[x.rng.IntN(len(near))]) }
	for range 12 {
		q, w := pick(), pick()
		if n := q.Sub(p).Cross(w.Sub(p)); n.Norm() > 0.1*q.Sub(p).Norm()*w.Sub(p).Norm() {
			add(shape{kind: planeKind, p: p, a: n.Normalize()}, 3)
		}
	}
	for _, a := range x.dirs {
		for range 8 {
			if s, ok := roundAbout(a, p, pick(), pick()); ok {
				add(s, 3)
			}
		}
	}
	for _, ax := range x.axes {
		for range 4 {
			if s, ok := coneAlong(ax, p, pick()); ok {
				add(s, 2)
			}
		}
	}
	for range 4 {
		if s, ok := ballThrough(p, pick(), pick(), pick()); ok {
			add(s, 4)
		}
	}
	if len(near) < 9 {
		return out
	}
	// Without an axis known, from the normals, made exact by least squares.
	for _, n := range [...]int{9, 15} {
		x.pat.pos, x.pat.nrm = append(x.pat.pos[:0], p), append(x.pat.nrm[:0], x.r.s.Normals[seed].R3())
		for _, q := range nb[:min(len(nb), n)] {
			x.pat.pos = append(x.pat.pos, x.at(q))
			x.pat.nrm = append(x.pat.nrm, x.r.s.Normals[q].R3())
		}
		x.hyp = x.pat.hypotheses(x.hyp[:0])
		for _, h := range x.hyp {
			if h.kind != cylinderKind && h.kind != coneKind {
				continue
			}
			for range 3 {
				next, ok := h.refit(x.pat.pos)
				if !ok {
					break
				}
				h = next
			}
			add(h, h.kind.Params())
		}
	}
	return out
}

// roundAbout returns the cylinder of direction a through three points.
func roundAbout(a, p, q, w r3.Vector) (shape, bool) {
	e1, e2 := geom.Basis(a)
	x1, y1 := q.Sub(p).Dot(e1), q.Sub(p).Dot(e2)
	x2, y2 := w.Sub(p).Dot(e1), w.Sub(p).Dot(e2)
	l1, l2 := x1*x1+y1*y1, x2*x2+y2*y2
	det := 2 * (x1*y2 - x2*y1)
	if math.Abs(det) < 0.02*math.Sqrt(l1*l2) {
		return shape{}, false
	}
	u, v := (l1*y2-l2*y1)/det, (l2*x1-l1*x2)/det
	return shape{kind: cylinderKind, a: a, p: p.Add(e1.Mul(u)).Add(e2.Mul(v)), r: math.Hypot(u, v)}, true
}

// coneAlong returns the cone about an axis through two points.
func coneAlong(x axis, p, q r3.Vector) (shape, bool) {
	h1, h2 := p.Sub(x.p).Dot(x.a), q.Sub(x.p).Dot(x.a)
	l1 := p.Sub(x.p).Sub(x.a.Mul(h1)).Norm()
	l2 := q.Sub(x.p).Sub(x.a.Mul(h2)).Norm()
	dh, dl := h2-h1, l2-l1
	l := math.Hypot(dh, dl)
	if l == 0 || math.Abs(dl) < 0.05*l || math.Abs(dh) < 0.05*l {
		return shape{}, false // as good as a cylinder or a plane
	}
	s := shape{kind: coneKind, p: x.p.Add(x.a.Mul(h1 - l1*dh/dl)), a: x.a, sin: math.Abs(dl) / l, cos: math.Abs(dh) / l}
	if dl*dh < 0 {
		s.a = x.a.Mul(-1)
	}
	return s, true
}

// ballThrough returns the sphere through four points.
func ballThrough(p, q, w, z r3.Vector) (shape, bool) {
	a, b, c := q.Sub(p), w.Sub(p), z.Sub(p)
	det := 2 * a.Dot(b.Cross(c))
	if math.Abs(det) < 0.05*a.Norm()*b.Norm()*c.Norm() {
		return shape{}, false
	}
	v := b.Cross(c).Mul(a.Norm2()).Add(c.Cross(a).Mul(b.Norm2())).Add(a.Cross(b).Mul(c.Norm2())).Mul(1 / det)
	return shape{kind: sphereKind, p: p.Add(v), r: v.Norm()}, true
}
