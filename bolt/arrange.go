package bolt

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit/segment"
)

// ringOf is a bolt circle's holes before they have ids.
type ringOf struct {
	holes  []*candidate
	face   *face
	centre r3.Vector
	axis   r3.Vector
	radius float64
}

// arranged is what a finder found, put in order: the mounting face, its bolt
// circles (most holes first), the other holes, studs and the main bore.
type arranged struct {
	mounting *face
	rings    []ringOf
	single   []*candidate
	slots    []Hole
	unclear  []*slot // that cannot be measured
	studs    []*candidate
	bore     *segment.Cylinder
	boreRim  *candidate // where no cylinder was found and only its rim was seen
	boreWall *candidate // the same, where it could be held perpendicular to the face
	boreHole *Hole
	middle   r3.Vector // of the largest ring, else of the face
}

func (f *finder) arrange(opt Options) *arranged {
	a := &arranged{}
	rings := f.rings(f.holes)
	a.mounting = f.mountingFace(rings, opt.Face)
	if a.mounting == nil {
		return a
	}
	up := a.mounting.flat.n
	// One hole through both faces of a plate is one hole: on the mounting face.
	behind := func(c, o *candidate) bool { // c behind o
		if c.face.flat.n.Dot(up) > -math.Cos(5*math.Pi/180) || o.face.flat.n.Dot(up) < math.Cos(5*math.Pi/180) {
			return false
		}
		at := o.face.flat.xy(c.face.flat.at([2]float64{c.x, c.y}))
		return math.Hypot(at[0]-o.x, at[1]-o.y) < 0.3*o.r
	}
	holes := slices.DeleteFunc(slices.Clone(f.holes), func(c *candidate) bool {
		return slices.ContainsFunc(f.holes, func(o *candidate) bool { return behind(c, o) })
	})
	for _, s := range f.slots {
		if slices.ContainsFunc(f.slots, func(o *slot) bool {
			return behind(s.ends[0], o.ends[0]) || behind(s.ends[0], o.ends[1])
		}) {
			continue
		}
		if h, ok := s.hole(); ok {
			a.slots = append(a.slots, h)
		} else {
			a.unclear = append(a.unclear, s)
		}
	}
	rings = f.rings(holes)
	slices.SortStableFunc(rings, func(p, q ringOf) int {
		on := func(r ringOf) int {
			if r.axis.Dot(up) > math.Cos(2*math.Pi/180) {
				return 0
			}
			return 1
		}
		switch {
		case on(p) != on(q):
			return on(p) - on(q)
		case len(p.holes) != len(q.holes):
			return len(q.holes) - len(p.holes)
		case p.radius > q.radius:
			return -1
		case p.radius < q.radius:
			return 1
		}
		return 0
	})
	a.rings = rings
	a.middle = a.mounting.middle()
	if len(rings) > 0 {
		a.middle = rings[0].centre
	}
	f.chooseBore(a, opt.Bore)
	if a.bore == nil && len(rings) > 0 {
		a.boreRim = rings[0].boreAmong(holes)
	}
	inRing := map[*candidate]bool{}
	for g, r := range rings {
		shareRadius(r.holes, g+1)
		for _, c := range r.holes {
			inRing[c] = true
		}
	}
	for _, c := range holes {
		if !inRing[c] && !a.isBore(c) {
			a.single = append(a.single, c)
		}
	}
	for _, c := range f.studs {
		if a.bore == nil || c.r < a.bore.Radius {
			a.studs = append(a.studs, c)
		}
	}
	return a
}

// isBore reports whether c is the main bore, by its wall or, beside that, its rim.
func (a *arranged) isBore(c *candidate) bool {
	if a.bore == nil {
		return false
	}
	return c.wall == a.bore.ID || len(a.rings) > 0 && a.rings[0].boreOff(c) >= 0
}

// boreOff is how far from the circle's centre c lies, mm, where it may be the bore: a
// hole in the circle's middle that is larger than the circle's. Else it is negative.
func (r *ringOf) boreOff(c *candidate) float64 {
	at := c.face.flat.xy(r.centre)
	off := math.Hypot(at[0]-c.x, at[1]-c.y)
	if c.face.flat.n.Dot(r.axis) < math.Cos(5*math.Pi/180) || off >= 0.2*r.radius ||
		c.r <= 1.2*r.holes[0].r || c.r >= r.radius {
		return -1
	}
	return off
}

// boreAmong returns the hole that may be the bore and lies nearest the circle's centre.
func (r *ringOf) boreAmong(holes []*candidate) *candidate {
	var best *candidate
	for _, c := range holes {
		if off := r.boreOff(c); off >= 0 && (best == nil || off < r.boreOff(best)) {
			best = c
		}
	}
	return best
}

// mountingFace is the face that shows most of a bolt circle; without circles
// the one with most holes, then the largest.
func (f *finder) mountingFace(rings []ringOf, want string) *face {
	var best *face
	var bestRing, bestHoles int
	for _, fc := range f.faces {
		if want != "" {
			if fc.id == want {
				return fc
			}
			continue
		}
		ring, holes := 0, 0
		for _, r := range rings {
			if r.face == fc {
				ring = max(ring, len(r.holes))
			}
		}
		for _, c := range f.holes {
			if c.face == fc {
				holes++
			}
		}
		for _, s := range f.slots {
			if s.ends[0].face == fc {
				holes++
			}
		}
		if best == nil || ring > bestRing || ring == bestRing && (holes > bestHoles ||
			holes == bestHoles && fc.area > best.area) {
			best, bestRing, bestHoles = fc, ring, holes
		}
	}
	return best
}

// rings finds the bolt circles among holes. Those that look one way are searched
// together, whatever their heights: spot faces are cut, and bosses stand, as high as the
// casting needs. Each lies where its axis meets the sheet of the largest face.
func (f *finder) rings(holes []*candidate) []ringOf {
	var out []ringOf
	holes = slices.Clone(holes)
	slices.SortStableFunc(holes, func(p, q *candidate) int { return cmp.Compare(q.face.area, p.face.area) })
	done := make([]bool, len(holes))
	for i, first := range holes {
		if done[i] {
			continue
		}
		base := first.face.flat
		var level []*candidate
		for j := i; j < len(holes); j++ {
			c := holes[j]
			if done[j] || c.face != first.face && c.face.flat.n.Dot(base.n) < math.Cos(2*math.Pi/180) {
				continue
			}
			done[j] = true
			level = append(level, c)
		}
		spots := make([]spot, len(level))
		for k, c := range level {
			at := base.xy(c.face.flat.at([2]float64{c.x, c.y}))
			spots[k] = spot{x: at[0], y: at[1], r: c.r, vr: c.cov[2][2],
				cov: [2][2]float64{{c.cov[0][0], c.cov[0][1]}, {c.cov[1][0], c.cov[1][1]}}}
		}
		for _, fd := range findCircles(spots) {
			r := ringOf{centre: base.at([2]float64{fd.x, fd.y}), axis: base.n, radius: fd.r}
			for _, m := range fd.member {
				r.holes = append(r.holes, level[m])
			}
			r.face = r.holes[0].face
			for _, c := range r.holes {
				if c.face.area > r.face.area {
					r.face = c.face
				}
			}
			out = append(out, r)
		}
	}
	return out
}

// chooseBore picks the internal cylinder perpendicular to the mounting face, larger
// than the pattern's holes, whose axis passes nearest the bolt circle's
// centre, within a tenth of the pitch diameter.
func (f *finder) chooseBore(a *arranged, want string) {
	best := math.Inf(1)
	for i := range f.cylinders {
		c := &f.cylinders[i]
		if want != "" {
			if c.ID == want {
				a.bore = c
			}
			continue
		}
		if len(a.rings) == 0 || !c.Internal || !a.mounting.square(c) {
			continue
		}
		r := a.rings[0]
		off := meet(c.Point, c.Axis, flat{origin: r.centre, n: r.axis}).Distance(r.centre)
		if c.Radius > 1.2*r.holes[0].r && c.Radius < r.radius && off < 0.2*r.radius && off < best {
			best, a.bore = off, c
		}
	}
}

// meet returns where the line through p along d meets the sheet.
func meet(p, d r3.Vector, f flat) r3.Vector {
	k := d.Dot(f.n)
	if math.Abs(k) < 1e-9 {
		return p
	}
	return p.Sub(d.Mul(f.height(p) / k))
}
