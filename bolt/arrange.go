package bolt

import (
	"cmp"
	"context"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit/segment"
)

// arranged is what a finder found, put in order: the mounting face, its bolt circles
// (most holes first) and other patterns, the other holes, studs and the main bore.
type arranged struct {
	mounting *face
	rings    []*patternOf
	others   []*patternOf // patterns that are no rings
	single   []*candidate
	unclear  []*opening // that cannot be measured
	bore     *segment.Cylinder
	boreRim  *candidate // where no cylinder was found and only its rim was seen
	boreWall *candidate // the same, where it could be held perpendicular to the face
	boreHole *Hole
	middle   r3.Vector // of the largest ring or other pattern, else of the face
}

func (f *finder) arrange(ctx context.Context, opt Options) (*arranged, error) {
	a := &arranged{}
	all := slices.Clone(f.holes)
	for _, o := range f.taken {
		if h, ok := f.measured(o); ok {
			all = append(all, &candidate{slot: &h, face: o.fc})
		} else {
			a.unclear = append(a.unclear, o)
		}
	}
	all = append(all, f.studs...)
	found, err := f.patterns(all)
	if err != nil {
		return nil, err
	}
	a.mounting = f.mountingFace(found, all, opt.Face)
	if a.mounting == nil {
		return a, nil
	}
	// One hole through both faces of a plate is one hole: on the mounting face.
	up := a.mounting.flat.n
	toward := func(c *candidate) float64 { return c.face.flat.n.Dot(up) }
	rest := slices.DeleteFunc(slices.Clone(all), func(c *candidate) bool {
		if c.stud || toward(c) > -math.Cos(sameWay) {
			return false
		}
		i := slices.IndexFunc(all, func(o *candidate) bool {
			return !o.stud && toward(o) > math.Cos(sameWay) && o.samePlace(c)
		})
		if i >= 0 {
			all[i].alsoSeen(c)
		}
		return i >= 0
	})
	if len(rest) < len(all) {
		if found, err = f.patterns(rest); err != nil {
			return nil, err
		}
	}
	again, err := f.lookAgain(ctx, found, rest)
	if err != nil {
		return nil, err
	}
	if len(again) > 0 {
		rest = append(rest, again...)
		if found, err = f.patterns(rest); err != nil {
			return nil, err
		}
	}
	on := func(p *patternOf) int { // 0: of the mounting face's side, and its own reading
		k := 0
		if p.axis.Dot(up) < math.Cos(sameSide) {
			k = 2
		}
		if p.also != nil {
			k++
		}
		return k
	}
	found = slices.DeleteFunc(found, func(p *patternOf) bool { return len(p.features) == 2 && on(p) > 0 })
	slices.SortStableFunc(found, func(p, q *patternOf) int {
		return cmp.Or(on(p)-on(q), len(q.features)-len(p.features), cmp.Compare(q.radius, p.radius))
	})
	group := 1
	in := map[*candidate]bool{}
	for _, p := range found {
		if p.ring() {
			a.rings = append(a.rings, p)
		} else {
			a.others = append(a.others, p)
		}
		if p.also == nil {
			group = p.shareRadii(group)
		}
		for _, c := range p.features {
			in[c] = true
		}
	}
	a.middle = a.mounting.middle()
	for _, p := range append(slices.Clone(a.rings), a.others...) {
		a.middle = p.centre
		break
	}
	f.chooseBore(a, opt.Bore)
	if r := a.round(); r != nil && a.bore == nil {
		a.boreRim = r.boreAmong(rest)
	}
	for _, c := range rest {
		outside := c.stud && (a.bore != nil && c.r >= a.bore.Radius || slices.ContainsFunc(rest, c.aroundHole))
		if !in[c] && !outside && (c.slot != nil || c.stud || !a.isBore(c)) {
			a.single = append(a.single, c)
		}
	}
	return a, nil
}

// aroundHole reports whether o is a hole beside the middle of c and within it, as in a disc
// that lies on another face.
func (c *candidate) aroundHole(o *candidate) bool {
	if o.stud || c.face.flat.n.Dot(o.face.flat.n) < math.Cos(sameWay) {
		return false
	}
	at := c.face.flat.xy(o.hole().Centre)
	off := math.Hypot(at[0]-c.x, at[1]-c.y)
	return off > offAxis*c.r && off < c.r
}

// round returns the main pattern if a bore may lie in its middle: a bolt circle, or two
// features. Else it returns nil.
func (a *arranged) round() *patternOf {
	if all := slices.Concat(a.rings, a.others); len(all) > 0 && all[0].radius > 0 {
		return all[0]
	}
	return nil
}

// isBore reports whether c is the main bore, by its wall or, beside that, its rim.
func (a *arranged) isBore(c *candidate) bool {
	if a.bore == nil {
		return false
	}
	r := a.round()
	return c.wall == a.bore.ID || r != nil && r.boreOff(c) >= 0
}

// boreOff is how far from the circle's centre c lies, mm, where it may be the bore: a
// hole in the circle's middle that is larger than the circle's. Else it is negative.
func (r *patternOf) boreOff(c *candidate) float64 {
	at := c.face.flat.xy(r.centre)
	off := math.Hypot(at[0]-c.x, at[1]-c.y)
	if c.face.flat.n.Dot(r.axis) < math.Cos(5*math.Pi/180) || !r.boreFits(off, c.r) {
		return -1
	}
	return off
}

// boreFits reports whether a hole of a radius, so far off the centre, may be the bore.
func (r *patternOf) boreFits(off, radius float64) bool {
	return off < boreOffCentre*r.radius && radius > boreLeast*r.largest() && radius < r.radius
}

// boreAmong returns the hole that may be the bore and lies nearest the circle's centre.
func (r *patternOf) boreAmong(all []*candidate) *candidate {
	var best *candidate
	for _, c := range all {
		if c.slot != nil || c.stud {
			continue
		}
		if off := r.boreOff(c); off >= 0 && (best == nil || off < r.boreOff(best)) {
			best = c
		}
	}
	return best
}

// mountingFace is the face that shows most of a pattern, a ring before others; without
// patterns of three or more the one with most holes, then the largest.
func (f *finder) mountingFace(found []*patternOf, all []*candidate, want string) *face {
	var best *face
	var most [3]int
	for _, fc := range f.faces {
		if want != "" {
			if fc.id == want {
				return fc
			}
			continue
		}
		var n [3]int
		for _, p := range found {
			k := 1
			if p.ring() {
				k = 0
			}
			if p.face == fc && len(p.features) > 2 {
				n[k] = max(n[k], len(p.features))
			}
		}
		for _, c := range all {
			if c.face == fc && !c.stud {
				n[2]++
			}
		}
		if d := slices.Compare(n[:], most[:]); best == nil || d > 0 || d == 0 && fc.area > best.area {
			best, most = fc, n
		}
	}
	return best
}

// chooseBore picks the internal cylinder perpendicular to the mounting face, larger
// than the pattern's holes, whose axis passes nearest the centre of the bolt circle, or the
// middle of two holes, within a tenth of the pitch diameter.
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
		r := a.round()
		if r == nil || !c.Internal || !a.mounting.square(c) {
			continue
		}
		off := meet(c.Point, c.Axis, flat{origin: r.centre, n: r.axis}).Distance(r.centre)
		if r.boreFits(off, c.Radius) && off < best {
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
