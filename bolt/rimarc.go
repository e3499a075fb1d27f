package bolt

import (
	"math"
	"slices"
)

// Of a hole that runs into a gap of the scan only an arc of the rim may be seen: a
// stretch of the brink that turns down, round from end to end, the face outside it. A
// rounded corner or the end of a slot looks like that too where its straight sides
// were not scanned. An arc is taken for a hole only where the scan stops at both of its
// ends, and the face comes back to the circle beyond them, nearer than straight sides
// would let it. Where the gap is wider than that nothing tells, and there is no hole.
// Tolerances are in noise, spacings and radii, and chosen on simulated scans
// (TestWhatIsFound, TestEndsAndCornersAreNoHoles).

// leastRimArc is how much of a rim, rad, must be seen: of 90 degrees a rounded one,
// which reads wide, shows somewhat more than that.
const leastRimArc = 70 * math.Pi / 180

// rimArcs returns the holes that arcs of the face's brink show, apart from known ones.
func (f *finder) rimArcs(fc *face, b *brink, known []*candidate) []*candidate {
	g := f.grain
	if g.drawn() {
		return nil // nothing is hidden in a drawing
	}
	var out []*candidate
	free := b.without(known, g)
	for _, chain := range b.chains(free, 2*g.spacing) {
		if c, ok := f.rimArc(fc, b, chain); ok {
			out = append(out, &c)
		}
	}
	return apartFrom(known, out)
}

// apartFrom returns those of arcs that run neither into a known hole nor into each
// other: of two that do nothing tells which one is there.
func apartFrom(known, arcs []*candidate) []*candidate {
	all := slices.Concat(known, arcs)
	return slices.DeleteFunc(arcs, func(c *candidate) bool {
		return slices.ContainsFunc(all, func(o *candidate) bool {
			return o != c && math.Hypot(o.x-c.x, o.y-c.y) < 0.9*(o.r+c.r)
		})
	})
}

// without says which points of the brink are places where the surface turns down, and
// lie on no known rim.
func (b *brink) without(known []*candidate, g grain) []bool {
	free := make([]bool, len(b.pts))
	for i := b.open; i < len(free); i++ {
		free[i] = true
	}
	for _, c := range known {
		b.grid.within(c.x, c.y, c.r+2*g.spacing, func(i int32) { free[i] = false })
	}
	return free
}

// chains divides the free points into stretches: what is no farther apart than link
// hangs together.
func (b *brink) chains(free []bool, link float64) [][]int32 {
	var out [][]int32
	seen := make([]bool, len(b.pts))
	for i := range free {
		if !free[i] || seen[i] {
			continue
		}
		seen[i] = true
		chain := []int32{int32(i)}
		for k := 0; k < len(chain); k++ {
			p := b.pts[chain[k]]
			b.grid.within(p[0], p[1], link, func(j int32) {
				if free[j] && !seen[j] {
					seen[j] = true
					chain = append(chain, j)
				}
			})
		}
		slices.Sort(chain)
		out = append(out, chain)
	}
	return out
}

// rimArc fits the rim of a hole to a stretch of the face's brink.
func (f *finder) rimArc(fc *face, b *brink, chain []int32) (candidate, bool) {
	g := f.grain
	if len(chain) < 2*rimPoints {
		return candidate{}, false
	}
	pts := make([][2]float64, len(chain))
	var some [][2]float64 // a long chain is no arc, mostly
	for k, i := range chain {
		pts[k] = b.pts[i]
		if k%(1+len(chain)/200) == 0 {
			some = append(some, pts[k])
		}
	}
	d, err := robustDisc(some, nil, g.noise/4)
	if err != nil || d.off(some, g) > 0.1 {
		return candidate{}, false
	}
	d, err = robustDisc(pts, &d, g.noise/4)
	if err != nil || b.count(chain, d.weight) < rimPoints || d.r < 2*g.spacing || d.scale > max(3*g.noise, 0.4*g.spacing) ||
		fc.area < leastRing*math.Pi*d.r*d.r {
		return candidate{}, false
	}
	s := newArcSeries(pts, d)
	arc := s.arc()
	if d.off(pts, g) > 0.05 || arc < leastRimArc || d.lobes(pts) > lobesMost*d.r+g.noise {
		return candidate{}, false
	}
	lo, hi := d.span(pts)
	if hi-lo > arc+0.2 || !f.arcOfHole(fc, d, lo, hi) || !fc.closes(d, lo, hi, g) || !b.stops(d, lo, hi, g) || b.bulges(fc, d, chain, g) || !b.round(fc, d, chain, pts, g) {
		return candidate{}, false
	}
	c := candidate{face: fc, x: d.x, y: d.y, r: d.r, from: Rim, series: s, scale: d.scale, lo: -g.sink(), points: d.used,
		window: window{at: (lo + hi) / 2, half: (hi - lo) / 2}, part: true}
	return c, !f.rimNotch(&c, b)
}

// off is the share of the points that do not lie on the disc's edge.
func (d disc) off(pts [][2]float64, g grain) float64 {
	n := 0
	for _, p := range pts {
		if math.Abs(math.Hypot(p[0]-d.x, p[1]-d.y)-d.r) > max(3*g.noise, 0.6*g.spacing) {
			n++
		}
	}
	return float64(n) / float64(len(pts))
}

// span returns the directions, rad, between which all points lie: the largest gap
// between them left out. hi may pass 2π.
func (d disc) span(pts [][2]float64) (lo, hi float64) {
	at := make([]float64, len(pts))
	for i, p := range pts {
		at[i] = wrap(math.Atan2(p[1]-d.y, p[0]-d.x))
	}
	slices.Sort(at)
	most := 0.0
	for i, a := range at {
		b := at[(i+1)%len(at)]
		if gap := step(a, b); gap > most {
			most, lo, hi = gap, b, a
		}
	}
	if hi < lo {
		hi += 2 * math.Pi
	}
	return lo, hi
}

// arcOfHole reports whether the face lies outside the arc from lo to hi and not in the
// disc, and whether the surface falls away inside the arc: what turns down but gently is
// no rim.
func (f *finder) arcOfHole(fc *face, d disc, lo, hi float64) bool {
	g := f.grain
	sp := g.spacing
	inside := 0
	fc.grid.within(d.x, d.y, d.r-1.5*sp, func(int32) { inside++ })
	if float64(inside) > 0.02*math.Pi*d.r*d.r/(sp*sp)+2 {
		return false
	}
	const steps = 24
	faced := 0
	for k := range steps {
		sin, cos := math.Sincos(lo + (hi-lo)*(float64(k)+0.5)/steps)
		for r := d.r; r < d.r+4*sp; r += fc.map2.cell {
			if fc.map2.covered(d.x+r*cos, d.y+r*sin) {
				faced++
				break
			}
		}
	}
	if faced < steps*3/4 {
		return false
	}
	shallow, all := 0, 0
	mid, half := (lo+hi)/2, (hi-lo)/2
	for _, i := range f.near(fc, d.x, d.y, 0, d.r, -sp, 5*g.noise+sp) {
		q := f.scan.Point(int(i))
		xy := fc.flat.xy(q)
		dx, dy := xy[0]-d.x, xy[1]-d.y
		r, h := math.Hypot(dx, dy), fc.flat.height(q)
		if r > d.r || r < d.r-2.5*sp || math.Abs(wrapHalf(math.Atan2(dy, dx)-mid)) > half || h < -sp {
			continue
		}
		all++
		if r < d.r-1.2*sp {
			shallow++
		}
	}
	return 10*shallow <= all
}

// closes reports whether the face comes back to the circle where the arc from lo to hi
// does not show it: near it in two thirds of the directions farther than 40 degrees from
// the arc's ends, where the straight sides of a slot or a pocket would have kept it off.
func (f *face) closes(d disc, lo, hi float64, g grain) bool {
	const turn, off = 2 * math.Pi / 72, 40 * math.Pi / 180
	near := 1.2*d.r + 2*g.spacing
	faced, all := 0, 0
	for a := hi + off; a <= lo+2*math.Pi-off; a += turn {
		all++
		sin, cos := math.Sincos(a)
		for r := d.r - 1.5*g.spacing; r < near; r += f.map2.cell {
			if f.map2.covered(d.x+r*cos, d.y+r*sin) {
				faced++
				break
			}
		}
	}
	return 3*faced >= 2*all
}

// stops reports whether the scan stops at both ends of an arc of the brink from lo to
// hi: there is an open edge near.
func (b *brink) stops(d disc, lo, hi float64, g grain) bool {
	for _, a := range [2]float64{lo, hi} {
		sin, cos := math.Sincos(a)
		gap := false
		b.grid.within(d.x+d.r*cos, d.y+d.r*sin, 2.5*g.spacing, func(i int32) { gap = gap || int(i) < b.open })
		if !gap {
			return false
		}
	}
	return true
}

// bulges reports whether brink apart from the arc's chain turns down about the disc, off
// its circle and with no face between: the far end of an opening that is not round.
func (b *brink) bulges(f *face, d disc, chain []int32, g grain) bool {
	own := map[int32]bool{}
	for _, i := range chain {
		own[i] = true
	}
	n := 0
	b.grid.within(d.x, d.y, 1.6*d.r+2*g.spacing, func(i int32) {
		if int(i) < b.open || own[i] {
			return
		}
		p := b.pts[i]
		far := math.Hypot(p[0]-d.x, p[1]-d.y)
		if math.Abs(far-d.r) > max(3*g.noise, 0.6*g.spacing) && f.clear(d.x, d.y, p, d.r, far-2*g.spacing, g) {
			n++
		}
	})
	return n > 2
}
