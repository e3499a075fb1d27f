package segment

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// panelSurfaces finds the surfaces that the panels draw.
func (p *panelSet) surfaces(ctx context.Context, jobs int) (*searcher, error) {
	s := p.searcher(jobs)
	trials := math.MaxInt
	if p.m.noise > 0 {
		trials = noisyTrials
	}
	if err := s.run(ctx, 1, trials); err != nil {
		return nil, err
	}
	p.join(s)
	p.assign(s)
	p.dropBands(s)
	p.coaxial(s)
	p.assignCut(s)
	for k := range s.found {
		slices.Sort(s.found[k].nodes)
	}
	return s, ctx.Err()
}

// own gives a panel to surface k.
func (s *searcher) own(k int, id int32) {
	s.label[id] = int32(k)
	s.found[k].nodes = append(s.found[k].nodes, id)
}

// assign gives free panels that are sides of a surface, but lie apart from it or are too
// few to show it by themselves, to it: the narrow lands between the keyways of a bore,
// the tips of a spline.
func (p *panelSet) assign(s *searcher) {
	for k := range s.found {
		f := &s.found[k]
		if !f.round() || len(f.nodes) == 0 {
			continue
		}
		lo, hi := p.extent(&f.shape, f.nodes)
		usual := p.widest(f)
		for id := range p.list {
			q := &p.list[id]
			if s.label[id] >= 0 {
				continue
			}
			if h := q.centre.Sub(f.p).Dot(f.a); h < lo || h > hi {
				continue
			}
			_, ok := p.fits(&f.shape, f.side, p.m.near, int32(id))
			if ok && p.turn(&f.shape, q) <= wideStep*usual {
				s.own(k, int32(id))
			}
		}
	}
}

// widest returns the largest turn of a surface's panels.
func (p *panelSet) widest(f *support) float64 {
	w := 0.0
	for _, id := range f.nodes {
		w = max(w, p.turn(&f.shape, &p.list[id]))
	}
	return w
}

// join makes one surface of pieces that lie on one and touch, or lie beside each other
// round one axis, like the halves of a bore.
func (p *panelSet) join(s *searcher) {
	for i := range s.found {
		for j := i + 1; j < len(s.found); j++ {
			a, b := &s.found[i], &s.found[j]
			if len(a.nodes) == 0 || len(b.nodes) == 0 || !p.together(a, b) {
				continue
			}
			for _, id := range b.nodes {
				s.own(i, id)
			}
			b.nodes = nil
			if next, ok := a.refit(p.onSurface(&a.shape, a.nodes, p.m.loose)); ok {
				a.shape = next
			}
			j = i // the larger surface may reach one that was refused
		}
	}
}

// together reports whether two surfaces are pieces of one.
func (p *panelSet) together(a, b *support) bool {
	if a.side != b.side && a.kind != planeKind || a.kind != b.kind {
		return false
	}
	least := 1.0
	if p.m.noise > 0 {
		least = pieceShare
	}
	holds := func(a, b *support) bool {
		on := 0
		for k, id := range b.nodes {
			if _, ok := p.fits(&a.shape, a.side, p.m.loose, id); ok {
				on++
			}
			if float64(on+len(b.nodes)-k-1) < least*float64(len(b.nodes)) {
				return false
			}
		}
		return true
	}
	if a.kind == planeKind || !holds(a, b) && !holds(b, a) {
		return false
	}
	if !a.round() {
		return true // two pieces of one ball
	}
	alo, ahi := p.extent(&a.shape, a.nodes)
	blo, bhi := p.extent(&a.shape, b.nodes)
	return min(ahi, bhi)-max(alo, blo) >= -p.m.loose
}

// coaxial looks about the axes found for cylinders that are there in pieces of two or
// three sides each, too few to be one alone: the tips of teeth. A piece of a single side
// stays a plane, as the end of a lug is.
func (p *panelSet) coaxial(s *searcher) {
	for _, x := range axes(nil, s.found, p.m.loose) {
		radius := make([]float64, len(p.list)) // with the sign of the side; 0 for none
		var in []int32
		for id := range p.list {
			q := &p.list[id]
			c := shape{kind: cylinderKind, p: x.p, a: x.a}
			c.r = across(p.m.pts[q.corners[0]].Sub(x.p), x.a).Norm()
			side := math.Copysign(1, q.normal.Dot(across(q.centre.Sub(x.p), x.a)))
			if s.label[id] >= 0 || c.r <= p.m.loose {
				continue
			}
			if _, ok := p.fits(&c, side, p.m.loose, int32(id)); ok {
				radius[id] = side * c.r
				in = append(in, int32(id))
			}
		}
		in = slices.DeleteFunc(in, func(id int32) bool {
			return !slices.ContainsFunc(p.list[id].links, func(l panelLink) bool {
				return l.angle > 0 && l.angle < maxStep && radius[l.to] != 0 &&
					math.Abs(radius[l.to]-radius[id]) <= p.m.loose
			})
		})
		slices.SortFunc(in, func(a, b int32) int {
			return cmp.Or(cmp.Compare(radius[a], radius[b]), cmp.Compare(a, b))
		})
		for from, to := 0, 0; from < len(in); from = to {
			for to = from + 1; to < len(in) && radius[in[to]]-radius[in[to-1]] <= p.m.loose; to++ {
			}
			if to-from < coaxialPanels {
				continue
			}
			c := shape{kind: cylinderKind, p: x.p, a: x.a, r: math.Abs(radius[in[from]])}
			if sup, ok := s.ws[0].growPanels(c, in[from:to], len(p.list)); ok && s.accept(&sup) {
				s.keep(&sup)
			}
		}
	}
}

// assignCut gives panels beside a surface to it that are what another body's planes left
// of its flat sides: their corners lie on the chords, inside the surface but no deeper
// than its own sides reach, and they face as its own sides do.
func (p *panelSet) assignCut(s *searcher) {
	for k := range s.found {
		f := &s.found[k]
		if !f.round() || len(f.nodes) == 0 {
			continue
		}
		step, tilt := cutStep*p.widest(f), 0.0
		for _, id := range f.nodes {
			tilt = max(tilt, p.tilt(&f.shape, id))
		}
		tilt = cutTilt*tilt + 1e-5 // of rounding
		for at := 0; at < len(f.nodes); at++ {
			for _, l := range p.list[f.nodes[at]].links {
				if s.label[l.to] < 0 && l.angle <= maxStep && l.length > cutEdge*p.m.tol &&
					p.isCut(f, l.to, step, tilt) {
					s.own(k, l.to)
				}
			}
		}
	}
}

// tilt returns how far a panel leans along the surface's straight lines, as
// the sine of the angle.
func (p *panelSet) tilt(s *shape, id int32) float64 {
	q := &p.list[id]
	_, n := s.at(q.centre)
	return math.Abs(q.normal.Dot(across(s.a, n).Normalize()))
}

func (p *panelSet) isCut(f *support, id int32, step, tilt float64) bool {
	q := &p.list[id]
	for _, v := range q.corners {
		c := p.m.pts[v]
		if d, _ := f.at(c); d > p.m.near || -d > (1-math.Cos(step/2))*f.radius(c)+p.m.near {
			return false
		}
	}
	_, n := f.at(q.centre)
	return f.side*n.Dot(q.normal) >= math.Cos(step/2+tilt) && p.tilt(&f.shape, id) <= tilt &&
		p.turn(&f.shape, q) <= step
}

// dropBands gives up cones and cylinders that are only the bands by which a
// doubly curved surface was drawn: of a torus or a turned profile, round the
// axis or along it.
func (p *panelSet) dropBands(s *searcher) {
	var drop []int
	for k := range s.found {
		if s.found[k].round() && p.isBand(s, int32(k)) {
			drop = append(drop, k)
		}
	}
	s.relabel(drop, true)
	for _, k := range drop {
		s.found[k].nodes = nil
	}
}

// isBand reports whether beyond one end of a surface, or both, it goes on
// as a doubly curved one does.
func (p *panelSet) isBand(s *searcher, k int32) bool {
	f := &s.found[k]
	var total, on [2]float64
	for _, id := range f.nodes {
		q := &p.list[id]
		_, n := f.at(q.centre)
		along := across(f.a, n).Normalize()
		for _, l := range q.links {
			edge := p.m.pts[l.b].Sub(p.m.pts[l.a])
			if s.label[l.to] == k || math.Abs(edge.Normalize().Dot(along)) > endEdge {
				continue
			}
			end := 0
			if p.m.pts[l.a].Add(p.m.pts[l.b]).Mul(0.5).Sub(q.centre).Dot(along) > 0 {
				end = 1
			}
			total[end] += l.length
			if l.angle <= sharpTurn && p.goesOn(id, l) {
				on[end] += l.length
			}
		}
	}
	return on[0] > bandShare*total[0] || on[1] > bandShare*total[1]
}

// goesOn reports whether the panel beyond a link is as wide as this one, more
// or less, and the next beyond it turns on by a similar angle. Where a surface
// merely runs into a fillet, the first turn is half of those that follow.
func (p *panelSet) goesOn(id int32, l panelLink) bool {
	if len(p.list[l.to].corners) > faceCorners {
		return false // a face
	}
	a, b := p.m.pts[l.a], p.m.pts[l.b]
	dir := b.Sub(a).Normalize()
	off := func(q r3.Vector) float64 { return across(q.Sub(a), dir).Norm() }
	width := func(id int32) float64 {
		w := 0.0
		for _, v := range p.list[id].corners {
			w = max(w, off(p.m.pts[v]))
		}
		return w
	}
	near := func(x, y, ratio float64) bool { return x < ratio*y && y < ratio*x }
	mine, other := width(id), width(l.to)
	if !near(mine, other, bandWide) {
		return false
	}
	for _, n := range p.list[l.to].links {
		c, d := p.m.pts[n.a], p.m.pts[n.b]
		if min(off(c), off(d)) > 0.5*other && math.Abs(d.Sub(c).Normalize().Dot(dir)) > 0.8 {
			return n.convex == l.convex && near(n.angle, l.angle, bandTurn) ||
				max(n.angle, l.angle) < bandGentle
		}
	}
	return false
}
