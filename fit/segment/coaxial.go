package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
	"spotface/mesh/geom"
)

// axis is a line that surfaces of revolution may share.
type axis struct{ p, a r3.Vector }

// axes returns the axes of the cylinders and cones among surfs, each once, by its largest.
func axes(surfs []*surf, near float64) (out []axis) {
	none := func(f *surf) bool { return !f.round() || f.count == 0 }
	surfs = slices.DeleteFunc(slices.Clone(surfs), none)
	slices.SortStableFunc(surfs, func(a, b *surf) int { return cmp.Compare(b.count, a.count) })
	for _, s := range surfs {
		if !slices.ContainsFunc(out, func(x axis) bool {
			return math.Abs(x.a.Dot(s.a)) > oneDirection && s.p.Sub(x.p).Cross(x.a).Norm() < near
		}) {
			out = append(out, axis{s.p, s.a})
		}
	}
	return out
}

// withDirection appends a unless one of dirs is the same or opposite, up to so much of the
// cosine between them.
func withDirection(dirs []r3.Vector, a r3.Vector, off float64) []r3.Vector {
	if slices.ContainsFunc(dirs, func(d r3.Vector) bool { return math.Abs(d.Dot(a)) > 1-off }) {
		return dirs
	}
	return append(dirs, a)
}

// meridian is a node seen in the half plane through it and an axis: h along the axis, l
// from it, and its normal, of unit length, in these directions.
type meridian struct {
	node         int32
	h, l, nh, nl float64
}

// coaxials looks among the free nodes for narrow surfaces of revolution about axes that are
// known already: chamfers, countersinks, steps, ring faces. A short patch of such a strip
// says little; all of it together, much. In the meridian half plane it is a straight line
// l cos phi + h sin phi = c, and about a known axis one node with its normal proposes it.
func (s *searcher) coaxials(ctx context.Context, about []axis) error {
	for _, w := range s.ws {
		w.known = true
		defer func() { w.known = false }()
	}
	for _, x := range about {
		if err := ctx.Err(); err != nil {
			return err
		}
		ms := s.meridians(x)
		for range lineTurns {
			line, seeds := s.bestLine(ctx, x, &ms)
			if len(seeds) < axisNodes {
				break
			}
			sup, ok := s.ws[0].grow(line, seeds, s.n.len())
			if ok && len(sup.nodes) >= axisNodes && s.acceptAbout(x, &sup) {
				s.keep(&sup)
			}
		}
	}
	return nil
}

// meridians returns the free nodes whose normals lie in planes through an axis.
func (s *searcher) meridians(x axis) (ms []meridian) {
	for i := range s.n.len() {
		if s.label[i] >= 0 || !s.smooth[i] {
			continue
		}
		v := s.n.at(int32(i)).Sub(x.p)
		h := v.Dot(x.a)
		w := v.Sub(x.a.Mul(h))
		l := w.Norm()
		m := s.n.nrm[i].R3()
		if l < nearAxis*s.pitch || math.Abs(m.Dot(x.a.Cross(w))) > meridianOff*l {
			continue
		}
		nh, nl := m.Dot(x.a), m.Dot(w)/l
		n := math.Hypot(nh, nl)
		ms = append(ms, meridian{int32(i), h, l, nh / n, nl / n})
	}
	return ms
}

// bestLine returns the surface about x that most of ms lie on, of those that some of them
// propose, with their nodes, which it takes out of ms, as it does those found since.
func (s *searcher) bestLine(ctx context.Context, x axis, ms *[]meridian) (shape, []int32) {
	*ms = slices.DeleteFunc(*ms, func(m meridian) bool { return s.label[m.node] >= 0 })
	band, cos := s.tol.band(0), math.Cos(meridianReach)
	on := func(a, b *meridian) bool {
		return a.nh*b.nh+a.nl*b.nl >= cos && math.Abs(a.nl*(b.l-a.l)+a.nh*(b.h-a.h)) <= band
	}
	step, skip := max(1, len(*ms)/lineSample), max(1, len(*ms)/lineCounted)
	count := make([]int, (len(*ms)+step-1)/step)
	s.each(ctx, len(count), func(_ *worker, k int) {
		for j := 0; j < len(*ms); j += skip {
			if on(&(*ms)[k*step], &(*ms)[j]) {
				count[k]++
			}
		}
	})
	if len(count) == 0 {
		return shape{}, nil
	}
	best := (*ms)[slices.Index(count, slices.Max(count))*step]
	var seeds []int32
	var h, l, nh, nl float64
	*ms = slices.DeleteFunc(*ms, func(m meridian) bool {
		if !on(&best, &m) {
			return false
		}
		seeds = append(seeds, m.node)
		h, l, nh, nl = h+m.h, l+m.l, nh+m.nh, nl+m.nl
		return true
	})
	n := math.Hypot(nh, nl)
	sin, cos := nh/n, nl/n
	if math.Abs(sin) < lineStraight { // a cylinder
		sin, cos = 0, math.Copysign(1, cos)
	} else if math.Abs(cos) < lineStraight { // a plane
		sin, cos = math.Copysign(1, sin), 0
	}
	return lineAbout(x, sin, cos, (l*cos+h*sin)/float64(len(seeds))), seeds
}

// lineAbout is the surface about x whose meridian is l cos + h sin = c.
func lineAbout(x axis, sin, cos, c float64) shape {
	switch {
	case sin == 0:
		return shape{kind: cylinderKind, p: x.p, a: x.a, r: math.Abs(c)}
	case cos == 0:
		return shape{kind: planeKind, p: x.p.Add(x.a.Mul(c / sin)), a: x.a}
	}
	s := shape{kind: coneKind, p: x.p.Add(x.a.Mul(c / sin)), a: x.a,
		sin: math.Abs(sin), cos: math.Abs(cos)}
	// The normal of a cone seen from outside leans away from where it opens.
	if (sin > 0) == (cos > 0) {
		s.a = x.a.Mul(-1)
	}
	return s
}

// acceptAbout is accept for what is found about a known axis: there a plane may be a
// narrow ring.
func (s *searcher) acceptAbout(x axis, sup *support) bool {
	if sup.kind != planeKind || math.Abs(sup.a.Dot(x.a)) < ringCos {
		return s.accept(sup)
	}
	pts := s.positions(sup.nodes)
	off := make([]float64, len(pts))
	for k, q := range pts {
		v := q.Sub(x.p)
		off[k] = v.Sub(x.a.Mul(v.Dot(x.a))).Norm()
	}
	cut := len(off) / endCut
	lo, hi := geom.Nth(off, cut), geom.Nth(off, len(off)-1-cut)
	width := (hi - lo) / endsLeft
	return width >= s.leastWidth(planeExact, ringNoisy) &&
		s.dense(sup, arcOf(pts, x.p, x.a)*(lo+hi)/2*width)
}
