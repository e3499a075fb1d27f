package segment

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/geom"
)

// panelSet is a mesh of large triangles as the search sees it: its elements are flat
// panels, which belong to a surface if their corners lie on it.
type panelSet struct {
	m    *panelMesh
	list []flatPanel

	around []int32 // number of panels at each vertex
	found  func(k int32) *support
}

func newPanelSet(m *panelMesh, list []flatPanel) *panelSet {
	p := &panelSet{m: m, list: list, around: make([]int32, len(m.pts))}
	for i := range list {
		for _, v := range list[i].verts {
			p.around[v]++
		}
	}
	return p
}

// searcher returns a searcher over the panels.
func (p *panelSet) searcher(jobs int) *searcher {
	n := &nodes{lot: make([]int32, len(p.list))}
	g := &graph{start: make([]int32, 1, len(p.list)+1), reach: []float32{1}}
	smooth := make([]bool, len(p.list))
	for i := range p.list {
		q := &p.list[i]
		n.lot[i], smooth[i] = int32(i), true
		n.pos, n.nrm = append(n.pos, vec32(q.centre)), append(n.nrm, vec32(q.normal))
		first := len(g.nbr)
		for _, l := range q.links {
			if l.angle <= maxStep+q.tilt+p.list[l.to].tilt && !slices.Contains(g.nbr[first:], l.to) {
				g.nbr = append(g.nbr, l.to)
			}
		}
		g.start = append(g.start, int32(len(g.nbr)))
	}
	s := newSearcher(n, g, &tolerance{floor: p.m.near, held: true}, jobs, 0)
	s.smooth, s.panels = smooth, p
	p.found = func(k int32) *support { return &s.found[k] }
	for _, w := range s.ws {
		w.panels = p
	}
	return s
}

// vec32 is v in single precision.
func vec32(v r3.Vector) mesh.Vec32 {
	return mesh.Vec32{float32(v.X), float32(v.Y), float32(v.Z)}
}

func (p *panelSet) points(verts []int32) []r3.Vector {
	out := make([]r3.Vector, len(verts))
	for k, v := range verts {
		out[k] = p.m.pts[v]
	}
	return out
}

// corners returns the corners of the panels, each once.
func (p *panelSet) corners(panels []int32) []r3.Vector {
	var verts []int32
	for _, id := range panels {
		verts = append(verts, p.list[id].corners...)
	}
	slices.Sort(verts)
	return p.points(slices.Compact(verts))
}

// vertices returns all vertices of the panels, each once, ascending.
func (p *panelSet) vertices(panels []int32) []int32 {
	var verts []int32
	for _, id := range panels {
		verts = append(verts, p.list[id].verts...)
	}
	slices.Sort(verts)
	return slices.Compact(verts)
}

// read fills a patch with the corners of its panels, each with its panel's normal.
// Slivers, whose normals are chance, are left out.
func (p *panelSet) read(to *patch) {
	to.pos, to.nrm = to.pos[:0], to.nrm[:0]
	for _, id := range to.nodes {
		q := &p.list[id]
		if q.tilt > sliverTilt {
			continue
		}
		for _, v := range q.corners {
			to.pos, to.nrm = append(to.pos, p.m.pts[v]), append(to.nrm, q.normal)
		}
	}
}

// fits reports whether a panel belongs to s: its corners lie on it, it faces the way s
// does, and it spans no more than one step of a curved surface.
func (p *panelSet) fits(s *shape, side, band float64, id int32) (float64, bool) {
	q := &p.list[id]
	var sum float64
	for _, v := range q.corners {
		d, _ := s.at(p.m.pts[v])
		if math.Abs(d) > band {
			return 0, false
		}
		sum += d * d
	}
	if _, n := s.at(q.centre); !(side*n.Dot(q.normal) >= math.Cos(maxStep/2+q.tilt)) {
		return 0, false
	}
	if p.turn(s, q) > maxStep {
		return 0, false
	}
	return 1 - sum/(band*band*float64(len(q.corners))), true
}

// turn is the angle that a panel spans about the axis or the centre of s.
func (p *panelSet) turn(s *shape, q *flatPanel) float64 {
	if s.kind == planeKind {
		return 0
	}
	if s.kind != sphereKind {
		from, to := p.azimuths(s, q)
		return to - from
	}
	var half float64
	for _, v := range q.corners {
		half = max(half, float64(p.m.pts[v].Sub(s.p).Angle(q.centre.Sub(s.p))))
	}
	return math.Sqrt2 * half // of a square's side, not of its diagonal
}

// azimuths returns the angles about the axis of s, from a fixed direction, between which
// a panel lies. A corner on the axis has no azimuth and is left out.
func (p *panelSet) azimuths(s *shape, q *flatPanel) (from, to float64) {
	e1, e2 := geom.Basis(s.a)
	of := func(v r3.Vector) float64 { return math.Atan2(v.Dot(e2), v.Dot(e1)) }
	mid := of(q.centre.Sub(s.p))
	for _, c := range q.corners {
		if v := p.m.pts[c].Sub(s.p); v.Cross(s.a).Norm() >= undirected*p.m.tol {
			a := math.Remainder(of(v)-mid, 2*math.Pi)
			from, to = min(from, a), max(to, a)
		}
	}
	return mid + from, mid + to
}

// radius is that of the normal section of a cylinder or cone at q.
func (s *shape) radius(q r3.Vector) float64 {
	if s.kind == coneKind {
		return q.Sub(s.p).Cross(s.a).Norm() / s.cos
	}
	return s.r
}

// round reports whether s has an axis.
func (s *shape) round() bool { return s.kind == cylinderKind || s.kind == coneKind }

// onSurface returns the vertices of the panels that lie on s: corners only, if the
// others may stand on a straight side inside the surface. Where they meet in a cone's
// apex, which tells a fit no direction, the middles of the edges that lead there stand
// in its place.
func (p *panelSet) onSurface(s *shape, panels []int32, band float64) []r3.Vector {
	out := p.corners(panels)
	if p.m.noise > 0 {
		out = p.points(p.vertices(panels))
	}
	off := func(q r3.Vector) bool {
		d, _ := s.at(q)
		return !(math.Abs(d) <= band)
	}
	apex := func(q r3.Vector) bool {
		return s.kind == coneKind && q.Distance(s.p) <= undirected*p.m.tol
	}
	tip := slices.ContainsFunc(out, apex)
	out = slices.DeleteFunc(out, func(q r3.Vector) bool { return off(q) || apex(q) })
	if tip {
		for _, q := range slices.Clone(out) {
			out = append(out, q.Add(s.p).Mul(0.5))
		}
	}
	return out
}

// sharpen fits a shape that a patch suggests to the patch's corners. Panels that are
// exact are planes as they are.
func (p *panelSet) sharpen(s shape, from *patch) (shape, bool) {
	if s.kind == planeKind && p.m.noise == 0 {
		return s, false
	}
	return s.refit(p.onSurface(&s, from.nodes, math.Inf(1)))
}

// growPanels is worker.grow for panels: those connected with the seeds that fit the
// shape, which is fitted anew as they double. It stops at limit panels.
func (w *worker) growPanels(s shape, seeds []int32, limit int) (support, bool) {
	p := w.panels
	sup := support{surf: surf{shape: s, side: w.sideOf(&s, seeds), band: p.m.near}}
	for size := 0; ; size = len(sup.nodes) {
		room := min(limit, panelGain*size+len(seeds)+panelRoom)
		sup.nodes = w.follow(&sup.shape, sup.side, p.m.loose, seeds, room, sup.nodes)
		if len(sup.nodes) <= size {
			break
		}
		p.refine(&sup, p.m.loose)
	}
	if limit >= len(p.list) && s.kind != planeKind {
		w.complete(&sup)
	}
	return p.hold(sup)
}

// complete adds to a surface the panels that lie on it, free or of a smaller surface, and
// are linked to none of its own: beyond a keyway, on the next tooth, or across an edge
// that two tessellations share no vertex of. About an axis the heights must meet: the
// holes of two ears are two.
func (w *worker) complete(sup *support) {
	p := w.panels
	for n, turn := 0, 0; n != len(sup.nodes) && turn < completeTurns; turn++ {
		n = len(sup.nodes)
		p.refine(sup, p.m.loose)
		lo, hi := p.extent(&sup.shape, sup.nodes)
		w.stamp++
		for _, id := range sup.nodes {
			w.seen[id] = w.stamp
		}
		for id := range int32(len(p.list)) {
			if l := w.label[id]; w.seen[id] == w.stamp || l >= 0 && !p.found(l).pieceOf(sup) {
				continue
			}
			if _, ok := p.fits(&sup.shape, sup.side, p.m.loose, id); ok {
				l, h := p.extent(&sup.shape, []int32{id})
				if !sup.round() || l <= hi+p.m.loose && h >= lo-p.m.loose {
					sup.nodes = append(sup.nodes, id)
				}
			}
		}
	}
}

// pieceOf reports whether f may be a piece of a larger surface, of whatever kind it
// passed for: a piece of a cylinder lies on a cone, too.
func (f *support) pieceOf(sup *support) bool { return len(f.nodes) < len(sup.nodes) }

// refine fits the shape of a support to its vertices within a band.
func (p *panelSet) refine(sup *support, band float64) {
	if next, ok := sup.refitTwice(p.onSurface(&sup.shape, sup.nodes, band)); ok {
		sup.shape = next
	}
}

// hold drops the panels that do not lie on the surface to the tolerance and rates the
// others. It returns false for fewer than two.
func (p *panelSet) hold(sup support) (support, bool) {
	for n := 0; n != len(sup.nodes); {
		if n > 0 {
			p.refine(&sup, p.m.near)
		}
		n = len(sup.nodes)
		sup.score = 0
		sup.nodes = slices.DeleteFunc(sup.nodes, func(id int32) bool {
			score, ok := p.fits(&sup.shape, sup.side, p.m.near, id)
			sup.score += score
			return !ok
		})
		if len(sup.nodes) < 2 {
			return sup, false
		}
	}
	slices.Sort(sup.nodes)
	if p.m.noise > 0 {
		on := p.onSurface(&sup.shape, sup.nodes, p.m.near)
		free := len(on) - sup.kind.Params()
		if free < 1 {
			return sup, false
		}
		sup.rms = rmsOf(&sup.shape, on) * math.Sqrt(float64(len(on))/float64(free))
	}
	return sup, true
}

// surround gives free panels next to surface k to it that stray from it by more than most
// of the noise: their middle and most of their corners lie near it, and they face as it
// does. Thinning leaves such, and they would show pieces of the same surface again.
func (p *panelSet) surround(s *searcher, k int) {
	f := &s.found[k]
	for at := 0; at < len(f.nodes); at++ {
		for _, j := range s.g.of(f.nodes[at]) {
			q := &p.list[j]
			d, n := f.at(q.centre)
			if s.label[j] >= 0 || math.Abs(d) > p.m.loose ||
				f.side*n.Dot(q.normal) < math.Cos(maxStep/2+q.tilt) {
				continue
			}
			off := 0
			for _, v := range q.corners {
				if d, _ := f.at(p.m.pts[v]); math.Abs(d) > p.m.loose {
					off++
				}
			}
			if cornersOff*off <= len(q.corners) {
				s.own(k, j)
			}
		}
	}
}

// accept reports whether the panels show the surface beyond coincidence: a
// symmetric bevel always has its four edges on some cylinder, and a gentle
// curve follows some circle for a while.
func (p *panelSet) accept(sup *support) bool {
	noise := p.m.noise
	if noise > 0 && sup.rms > mostRMS[sup.kind]*noise {
		return false
	}
	if sup.kind == planeKind {
		area := 0.0
		for _, id := range sup.nodes {
			area += p.list[id].area
		}
		side := leastPlaneSides * p.m.side
		return noise > 0 && (p.wide(sup.nodes) || area >= side*side)
	}
	if sup.kind == sphereKind {
		return len(sup.nodes) >= leastBallPanels && sup.r > undirected*p.m.tol && p.bulges(sup)
	}
	arc, sides := p.arc(&sup.shape, sup.nodes)
	lo, hi := p.extent(&sup.shape, sup.nodes)
	if hi-lo <= leastLength*p.m.tol || sup.kind == coneKind && sup.sin < leastTaper {
		return false
	}
	corners := len(p.corners(sup.nodes))
	if noise > 0 {
		height := sup.radius(p.list[sup.nodes[0]].centre) * (1 - math.Cos(min(arc/2, math.Pi)))
		if height < leastHeight*p.m.near || corners < leastNoisyCorners ||
			sup.kind == coneKind && sup.extreme() || sup.rms > mostArcRMS*noise && arc < math.Pi {
			return false
		}
	}
	if sides == 3 && sup.kind == cylinderKind {
		return p.quarterRound(sup)
	}
	return sides >= leastSides && arc >= leastPanelArc && corners >= leastCorners
}

// wide reports whether one of the panels is no sliver.
func (p *panelSet) wide(panels []int32) bool {
	return slices.ContainsFunc(panels, func(id int32) bool {
		return p.list[id].height > sliverHeight*p.m.near
	})
}

// quarterRound reports whether three sides of a cylinder are the coarse rounding of an
// edge: equal, of 20 to 31 degrees. A bevel that happens to lie on a cylinder has sides
// of two widths.
func (p *panelSet) quarterRound(sup *support) bool {
	least, most := math.Inf(1), 0.0
	for _, id := range sup.nodes {
		turn := p.turn(&sup.shape, &p.list[id])
		least, most = min(least, turn), max(most, turn)
	}
	return least >= leastPanelArc && most <= min(widestRounding, unlikeRounding*least)
}

// bulges reports whether the vertices that the panels of a sphere enclose leave every
// plane: a cone of one ring, whose two ends lie on a sphere, encloses none.
func (p *panelSet) bulges(sup *support) bool {
	count := map[int32]int32{}
	for _, id := range sup.nodes {
		for _, v := range p.list[id].verts {
			count[v]++
		}
	}
	var inner geom.Moments
	for _, v := range p.vertices(sup.nodes) {
		if n := count[v]; n >= 3 && n == p.around[v] && !p.m.open[v] {
			inner.Add(p.m.pts[v])
		}
	}
	val, _ := inner.Cov().Eigen()
	return inner.N >= 4 && math.Sqrt(val[0]) > max(undirected*p.m.tol, leastHeight*p.m.near)
}

// arc returns the angle about the axis of s that the panels cover, and how many sides
// that begin at different places cover it.
func (p *panelSet) arc(s *shape, panels []int32) (arc float64, sides int) {
	spans := make([][2]float64, len(panels))
	for k, id := range panels {
		from, to := p.azimuths(s, &p.list[id])
		first := math.Mod(from+4*math.Pi, 2*math.Pi)
		spans[k] = [2]float64{first, first + to - from}
	}
	slices.SortFunc(spans, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	// The circle is laid open where the first side begins.
	end, last := math.Inf(-1), math.Inf(-1)
	for _, x := range spans {
		if x[0] > last+lineGap {
			sides++
			last = x[0]
		}
		to := min(x[1], spans[0][0]+2*math.Pi)
		arc += max(0, to-max(end, x[0]))
		end = max(end, to)
	}
	return arc, sides
}

// extent returns how far panels reach along the axis of s.
func (p *panelSet) extent(s *shape, panels []int32) (lo, hi float64) {
	return along(p.corners(panels), s.p, s.a, math.MaxInt)
}
