package segment

import (
	"context"
	"math"
	"slices"
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
	for k := range s.found { // of some, larger ones took panels
		f := &s.found[k]
		f.nodes = slices.DeleteFunc(f.nodes, func(id int32) bool { return s.label[id] != int32(k) })
	}
	p.dropBands(s)
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

// assignCut gives panels beside a surface to it that are what another body's planes left
// of its flat sides: their corners lie on the chords, inside the surface but no deeper
// than its own sides reach, and they face as its own sides do.
func (p *panelSet) assignCut(s *searcher) {
	for k := range s.found {
		f := &s.found[k]
		if !f.round() || len(f.nodes) == 0 {
			continue
		}
		step := 0.0
		for _, id := range f.nodes {
			step = max(step, cutStep*p.turn(&f.shape, &p.list[id]))
		}
		for at := 0; at < len(f.nodes); at++ {
			for _, l := range p.list[f.nodes[at]].links {
				if s.label[l.to] < 0 && l.angle <= maxStep && l.length > cutEdge*p.m.tol &&
					p.isCut(f, &p.list[l.to], step) {
					s.own(k, l.to)
				}
			}
		}
	}
}

func (p *panelSet) isCut(f *support, q *flatPanel, step float64) bool {
	for _, v := range q.corners {
		c := p.m.pts[v]
		if d, _ := f.at(c); d > p.m.near || -d > (1-math.Cos(step/2))*f.radius(c)+p.m.near {
			return false
		}
	}
	_, n := f.at(q.centre)
	return f.side*n.Dot(q.normal) >= math.Cos(step/2+q.tilt+cutTilt) && p.turn(&f.shape, q) <= step
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
	for _, k := range drop {
		s.drop(k)
	}
}

// isBand reports whether most panels of a surface go on beyond one of its ends as those
// of a doubly curved one do.
func (p *panelSet) isBand(s *searcher, k int32) bool {
	on := 0
	for _, id := range s.found[k].nodes {
		if slices.ContainsFunc(p.list[id].links, func(l panelLink) bool {
			return s.label[l.to] != k && l.angle <= sharpTurn && p.goesOn(id, l)
		}) {
			on++
		}
	}
	return float64(on) > bandShare*float64(len(s.found[k].nodes))
}

// goesOn reports whether the panel beyond a link is like this one, and at its far edge
// turns on by a similar angle. Where a surface merely runs into a fillet, the first turn
// is half of those that follow.
func (p *panelSet) goesOn(id int32, l panelLink) bool {
	near := func(x, y, ratio float64) bool { return x < ratio*y && y < ratio*x }
	q := &p.list[l.to]
	if !near(p.list[id].area, q.area, likeArea) {
		return false
	}
	edge := p.m.pts[l.b].Sub(p.m.pts[l.a]).Normalize()
	return slices.ContainsFunc(q.links, func(n panelLink) bool {
		far := n.a != l.a && n.a != l.b && n.b != l.a && n.b != l.b
		along := math.Abs(p.m.pts[n.b].Sub(p.m.pts[n.a]).Normalize().Dot(edge))
		return far && along > bandEdge && (n.convex == l.convex && near(n.angle, l.angle, bandTurn) ||
			max(n.angle, l.angle) < bandGentle)
	})
}
