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

// meridian is a node seen in the half plane through it and an axis: h along
// the axis, l from it, phi the direction of the normal from the radial toward
// the axial direction.
type meridian struct {
	node      int32
	h, l, phi float64
}

// coaxials calls coaxial for each axis.
func (s *searcher) coaxials(ctx context.Context, about []axis) error {
	for _, x := range about {
		if err := ctx.Err(); err != nil {
			return err
		}
		s.coaxial(x, axisNodes)
	}
	return nil
}

// coaxial looks among the free nodes for narrow surfaces of revolution about an axis
// that is known already: chamfers, countersinks, steps, ring faces. A short patch
// of such a strip says little; all of it together, much. In the meridian half
// plane it is a straight line l cos phi + h sin phi = c.
func (s *searcher) coaxial(x axis, minNodes int) {
	var ms []meridian
	for i := range s.n.len() {
		if s.label[i] >= 0 || !s.smooth[i] {
			continue
		}
		v := s.n.at(int32(i)).Sub(x.p)
		h := v.Dot(x.a)
		w := v.Sub(x.a.Mul(h))
		l := w.Norm()
		if l < nearAxis*s.pitch {
			continue
		}
		w = w.Mul(1 / l)
		m := s.n.nrm[i].R3()
		if math.Abs(m.Dot(x.a.Cross(w))) > meridianOff {
			continue
		}
		ms = append(ms, meridian{int32(i), h, l, math.Atan2(m.Dot(x.a), m.Dot(w))})
	}
	for _, w := range s.ws {
		w.known = true
		defer func() { w.known = false }()
	}
	const bins = meridianBins
	for range meridianTurns {
		// The most frequent direction, over a window of three bins.
		var hist [bins]int
		for _, m := range ms {
			if s.label[m.node] < 0 {
				hist[int((m.phi/(2*math.Pi)+1)*bins)%bins]++
			}
		}
		best, count := -1, 0
		for k := range hist {
			if c := hist[k] + hist[(k+1)%bins] + hist[(k+bins-1)%bins]; c > count {
				best, count = k, c
			}
		}
		if count < minNodes {
			return
		}
		phi := (float64(best) + 0.5) / bins * 2 * math.Pi
		left := ms[:0:0]
		var in []meridian
		for _, m := range ms {
			if d := math.Remainder(m.phi-phi, 2*math.Pi); math.Abs(d) <= meridianReach {
				in = append(in, m)
			} else {
				left = append(left, m)
			}
		}
		s.lines(x, phi, in, minNodes)
		ms = left
	}
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

// lines takes the most populated offsets c among nodes of one direction and
// grows each.
func (s *searcher) lines(x axis, phi float64, in []meridian, minNodes int) {
	sin, cos := math.Sincos(phi)
	if math.Abs(sin) < lineStraight { // a cylinder
		sin, cos = 0, math.Copysign(1, cos)
	} else if math.Abs(cos) < lineStraight { // a plane
		sin, cos = math.Copysign(1, sin), 0
	}
	slices.SortFunc(in, func(a, b meridian) int {
		ca, cb := a.l*cos+a.h*sin, b.l*cos+b.h*sin
		if ca < cb {
			return -1
		} else if ca > cb {
			return 1
		}
		return int(a.node - b.node)
	})
	width := 2 * s.tol.band(0)
	type start struct {
		shape
		seeds []int32
	}
	var starts []start
	for range lineStarts {
		best, count := -1, 0
		for i, j := 0, 0; i < len(in); i++ {
			for j < len(in) && in[j].l*cos+in[j].h*sin-in[i].l*cos-in[i].h*sin <= width {
				j++
			}
			if j-i > count {
				best, count = i, j-i
			}
		}
		if count < minNodes {
			break
		}
		peak := in[best : best+count]
		c := 0.0
		var seeds []int32
		for _, m := range peak {
			c += (m.l*cos + m.h*sin) / float64(count)
			seeds = append(seeds, m.node)
		}
		sh := lineAbout(x, sin, cos, c)
		starts = append(starts, start{sh, seeds})
		in = append(in[:best:best], in[best+count:]...)
	}
	sups, ok := make([]support, len(starts)), make([]bool, len(starts))
	grow := func(w *worker, k int) {
		sups[k], ok[k] = w.grow(starts[k].shape, starts[k].seeds, s.n.len())
	}
	s.each(len(starts), grow)
	taken := false
	for k := range starts {
		if taken { // what it may grow over is less by now
			grow(s.ws[0], k)
		}
		if ok[k] && len(sups[k].nodes) >= minNodes && s.acceptAbout(x, &sups[k]) {
			s.keep(&sups[k])
			taken = true
		}
	}
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
