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

	vertexStart []int32 // panels at vertex v: vertexPanel[vertexStart[v]:vertexStart[v+1]]
	vertexPanel []int32
	learnt      bool // see learn
}

func newPanelSet(m *panelMesh, list []flatPanel) *panelSet {
	p := &panelSet{m: m, list: list, vertexStart: make([]int32, len(m.pts)+1)}
	for i := range list {
		for _, v := range list[i].verts {
			p.vertexStart[v+1]++
		}
	}
	for v := range m.pts {
		p.vertexStart[v+1] += p.vertexStart[v]
	}
	p.vertexPanel = make([]int32, p.vertexStart[len(m.pts)])
	next := slices.Clone(p.vertexStart)
	for i := range list {
		for _, v := range list[i].verts {
			p.vertexPanel[next[v]] = int32(i)
			next[v]++
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
		for _, l := range q.links { // longest first
			if l.angle <= maxStep+q.tilt+p.list[l.to].tilt && !slices.Contains(g.nbr[first:], l.to) {
				g.nbr = append(g.nbr, l.to)
			}
		}
		g.start = append(g.start, int32(len(g.nbr)))
	}
	s := newSearcher(n, g, &tolerance{floor: p.m.near, held: true}, jobs, 0)
	s.smooth, s.panels = smooth, p
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

// collectPanels is worker.collect for panels: those near the seed, and first those of its
// size, as the sides of a curved surface are, beside which a face is large.
func (w *worker) collectPanels(seed int32, size int, to *patch) {
	list := w.panels.list
	w.stamp++
	w.seen[seed] = w.stamp
	to.nodes = append(to.nodes[:0], seed)
	unlike := func(id int32) bool {
		a, b := list[id].area, list[seed].area
		return a > likeArea*b || b > likeArea*a
	}
	var rest []int32
	for at := 0; at < len(to.nodes) && len(to.nodes) < size; at++ {
		for _, j := range w.g.of(to.nodes[at]) {
			if w.seen[j] == w.stamp || w.label[j] >= 0 {
				continue
			}
			w.seen[j] = w.stamp
			if unlike(j) {
				rest = append(rest, j)
			} else if len(to.nodes) < size {
				to.nodes = append(to.nodes, j)
			}
		}
		if at+1 == len(to.nodes) && len(rest) > 0 {
			to.nodes, rest = append(to.nodes, rest[0]), rest[1:]
		}
	}
	w.read(to)
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
	if s.kind != planeKind && p.turn(s, q) > maxStep {
		return 0, false
	}
	return 1 - sum/(band*band*float64(len(q.corners))), true
}

// turn is the angle that a panel spans about the axis or the centre of s.
func (p *panelSet) turn(s *shape, q *flatPanel) float64 {
	pts := p.points(q.corners)
	if s.kind != sphereKind {
		return azimuthSpan(pts, s.p, s.a)
	}
	var middle r3.Vector
	for _, q := range pts {
		middle = middle.Add(q.Sub(s.p).Normalize())
	}
	var half float64
	for _, q := range pts {
		half = max(half, float64(q.Sub(s.p).Angle(middle)))
	}
	return math.Sqrt2 * half // of a square's side, not of its diagonal
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

// across returns the part of w perpendicular to the unit vector a.
func across(w, a r3.Vector) r3.Vector { return w.Sub(a.Mul(w.Dot(a))) }

// azimuth returns the angle of q about an axis from a fixed direction.
func azimuth(q, point, axis r3.Vector) float64 {
	e1 := axis.Ortho()
	return math.Atan2(q.Sub(point).Dot(axis.Cross(e1)), q.Sub(point).Dot(e1))
}

// azimuthSpan returns the angle about an axis that the points span, seen from
// their middle. A point on the axis has no azimuth and is left out.
func azimuthSpan(pts []r3.Vector, point, axis r3.Vector) float64 {
	var middle r3.Vector
	farthest := 0.0
	for _, p := range pts {
		w := across(p.Sub(point), axis)
		middle = middle.Add(w)
		farthest = max(farthest, w.Norm())
	}
	if middle.Norm() <= 1e-9*farthest {
		return 2 * math.Pi
	}
	side := axis.Cross(middle)
	var lo, hi float64
	for _, p := range pts {
		w := across(p.Sub(point), axis)
		if w.Norm() < 1e-3*farthest {
			continue
		}
		a := math.Atan2(w.Dot(side), w.Dot(middle))
		lo, hi = min(lo, a), max(hi, a)
	}
	return hi - lo
}

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

// sharpen fits a shape that a patch suggests to the patch's corners, if the patch has
// panels enough to tell its kind. Panels that are exact are planes as they are.
func (p *panelSet) sharpen(s shape, from *patch) (shape, bool) {
	if s.kind == planeKind && p.m.noise == 0 || len(from.nodes) < tellingPanels[s.kind] {
		return s, false
	}
	return s.refit(p.onSurface(&s, from.nodes, math.Inf(1)))
}

// growPanels is worker.grow for panels: those connected with the seeds that fit the
// shape, which is fitted anew as they double; those that do not hold it to the tolerance
// in the end are dropped. It stops at limit panels.
func (w *worker) growPanels(s shape, seeds []int32, limit int) (support, bool) {
	p := w.panels
	sup := support{shape: s, side: w.sideOf(&s, seeds), band: p.m.near}
	for size := 0; ; size = len(sup.nodes) {
		room := min(limit, 2*size+len(seeds)+4)
		sup.nodes, _ = w.flood(&sup.shape, sup.side, p.m.loose, seeds, room, sup.nodes)
		if len(sup.nodes) <= size {
			break
		}
		if next, ok := sup.refit(p.onSurface(&sup.shape, sup.nodes, p.m.loose)); ok {
			sup.shape = next
		}
	}
	for {
		n := len(sup.nodes)
		sup.nodes = slices.DeleteFunc(sup.nodes, func(id int32) bool {
			_, ok := p.fits(&sup.shape, sup.side, p.m.near, id)
			return !ok
		})
		sup.nodes = p.dropWide(&sup.shape, sup.nodes)
		if len(sup.nodes) < 2 {
			return sup, false
		}
		if len(sup.nodes) == n {
			break
		}
		if next, ok := sup.refit(p.onSurface(&sup.shape, sup.nodes, p.m.near)); ok {
			sup.shape = next
		}
	}
	sup.score = 0
	for _, id := range sup.nodes {
		sc, _ := p.fits(&sup.shape, sup.side, p.m.near, id)
		sup.score += sc
	}
	slices.Sort(sup.nodes)
	on := p.onSurface(&sup.shape, sup.nodes, p.m.near)
	free := len(on) - sup.kind.Params()
	if p.m.noise > 0 {
		if free < 1 {
			return sup, false
		}
		sup.rms = rmsOf(&sup.shape, on) * math.Sqrt(float64(len(on))/float64(free))
	}
	return sup, true
}

// learn raises the noise to what the first large surface shows, where that is more than
// pairs of triangles do: thinning leaves vertices that err together.
func (p *panelSet) learn(s *searcher) {
	f := &s.found[len(s.found)-1]
	if p.learnt || len(p.corners(f.nodes)) < learnCorners {
		return
	}
	p.learnt = true
	if f.rms > p.m.noise {
		p.m.raise(f.rms)
		s.tol.floor = p.m.near
	}
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
			if 3*off <= len(q.corners) {
				s.own(k, j)
			}
		}
	}
}

// dropWide leaves out panels that span far more than the usual step: a flat on
// a shaft whose two edges lie on the shaft, as any chord's do.
func (p *panelSet) dropWide(s *shape, in []int32) []int32 {
	if s.kind == planeKind || len(in) == 0 {
		return in
	}
	turn := make([]float64, len(in))
	total := 0.0
	for k, id := range in {
		turn[k] = p.turn(s, &p.list[id])
		total += turn[k]
	}
	sorted := slices.Clone(turn)
	slices.Sort(sorted)
	usual, sum := 0.0, 0.0
	for _, t := range sorted {
		if usual = t; sum+t >= total/2 {
			break
		}
		sum += t
	}
	out := in[:0]
	for k, id := range in {
		if turn[k] <= wideStep*usual+1e-9 {
			out = append(out, id)
		}
	}
	return out
}

// accept reports whether the panels show the surface beyond coincidence: a
// symmetric bevel always has its four edges on some cylinder, and a gentle
// curve follows some circle for a while.
func (p *panelSet) accept(sup *support, w *worker) bool {
	noise := p.m.noise
	if noise > 0 && (sup.rms > mostWholeRMS*noise || sup.rms > mostRMS*noise && !sup.round()) {
		return false
	}
	switch sup.kind {
	case planeKind:
		area := 0.0
		for _, id := range sup.nodes {
			area += p.list[id].area
		}
		side := leastPlaneSides * p.m.side
		return noise > 0 && (p.wide(sup.nodes) || area >= side*side)
	case sphereKind:
		inner := p.within(sup.nodes, w)
		return len(sup.nodes) >= leastBallPanels && sup.r > undirected*p.m.tol &&
			spansSpace(inner, max(undirected*p.m.tol, leastHeight*p.m.near))
	}
	arc, lines := p.arc(&sup.shape, sup.nodes)
	lo, hi := p.extent(&sup.shape, sup.nodes)
	if hi-lo <= leastLength*p.m.tol || sup.r > mostRadius*p.m.size ||
		sup.kind == coneKind && sup.sin < leastTaper {
		return false
	}
	corners := len(p.corners(sup.nodes))
	if noise > 0 {
		height := sup.radius(p.list[sup.nodes[0]].centre) * (1 - math.Cos(min(arc/2, math.Pi)))
		if height < leastHeight*p.m.near || corners < leastNoisyCorners ||
			sup.kind == coneKind && sup.extreme() || sup.rms > mostRMS*noise && arc < math.Pi {
			return false
		}
	}
	if len(lines) == 4 && sup.kind == cylinderKind {
		return quarterRound(lines)
	}
	return len(lines) >= leastLines && arc >= leastPanelArc && corners >= leastCorners
}

// wide reports whether one of the panels is no sliver.
func (p *panelSet) wide(panels []int32) bool {
	return slices.ContainsFunc(panels, func(id int32) bool {
		return p.list[id].height > sliverHeight*p.m.near
	})
}

// quarterRound reports whether four lines of a cylinder, by azimuth, are the
// coarse rounding of an edge: three equal sides of 20 to 31 degrees. A bevel
// that happens to lie on a cylinder has sides of two widths.
func quarterRound(lines []float64) bool {
	var steps []float64
	for i, a := range lines {
		steps = append(steps, math.Mod(lines[(i+1)%4]-a+2*math.Pi, 2*math.Pi))
	}
	slices.Sort(steps)
	return steps[0] >= leastPanelArc && steps[2] <= min(widestRounding, unlikeRounding*steps[0])
}

// within returns the vertices that the panels enclose.
func (p *panelSet) within(panels []int32, w *worker) []r3.Vector {
	w.mark++
	for _, id := range panels {
		w.marks[id] = w.mark
	}
	return p.points(slices.DeleteFunc(p.vertices(panels), func(v int32) bool {
		at := p.vertexPanel[p.vertexStart[v]:p.vertexStart[v+1]]
		return len(at) < 3 || p.m.open[v] ||
			slices.ContainsFunc(at, func(id int32) bool { return w.marks[id] != w.mark })
	}))
}

// spansSpace reports whether points stray from every plane by more than a length.
func spansSpace(pts []r3.Vector, least float64) bool {
	var m geom.Moments
	for _, q := range pts {
		m.Add(q)
	}
	val, _ := m.Cov().Eigen()
	return len(pts) >= 4 && val[0] > least*least
}

// arc returns the angle about the axis of s that the panels cover, and where the
// straight lines of s lie that their corners mark.
func (p *panelSet) arc(s *shape, panels []int32) (arc float64, lines []float64) {
	type interval struct{ from, to float64 }
	var sides []interval
	var at []float64
	for _, id := range panels {
		pts := p.points(p.list[id].corners)
		mid := azimuth(p.list[id].centre, s.p, s.a)
		lo := 0.0
		for _, q := range pts {
			if across(q.Sub(s.p), s.a).Norm() < undirected*p.m.tol {
				continue
			}
			a := azimuth(q, s.p, s.a)
			lo = min(lo, math.Remainder(a-mid, 2*math.Pi))
			if d, _ := s.at(q); math.Abs(d) <= p.m.near {
				at = append(at, a)
			}
		}
		sides = append(sides, interval{mid + lo, mid + lo + azimuthSpan(pts, s.p, s.a)})
	}
	slices.Sort(at)
	for i, a := range at {
		gap := a - at[(i+len(at)-1)%len(at)]
		if i == 0 {
			gap += 2 * math.Pi
		}
		if gap > lineGap {
			lines = append(lines, a)
		}
	}
	// Lay the circle open at the start of the first side and add up what
	// the sides cover.
	slices.SortFunc(sides, func(p, q interval) int { return cmp.Compare(p.from, q.from) })
	end, last := math.Inf(-1), sides[0].from+2*math.Pi
	for _, x := range append(sides, interval{last, last}) {
		to := min(x.to, last)
		end = max(end, x.from)
		if to > end {
			arc += to - end
			end = to
		}
	}
	return min(arc, 2*math.Pi), lines
}

// extent returns how far panels reach along the axis of s.
func (p *panelSet) extent(s *shape, panels []int32) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, q := range p.corners(panels) {
		h := q.Sub(s.p).Dot(s.a)
		lo, hi = min(lo, h), max(hi, h)
	}
	return lo, hi
}
