package bolt

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// rimPoints is the least number of points of a rim on a mesh.
const rimPoints = 12

// rimIn fits the rim of a hole in a hollow of the face, from the face's brink.
// ok is false where the brink is not a circle that turns down: a slot, a
// corner, a boss (which turns up), or a gap in the scan (which does not turn). The
// brink of a gap beside the hole lies at the face's height: first it is left out.
func (f *face) rimIn(h hollow, b *brink, g grain) (candidate, bool) {
	if c, ok := f.rimBelow(h, b, g, -0.5*g.sink()); ok {
		return c, true
	}
	return f.rimBelow(h, b, g, math.Inf(1))
}

// rimBelow is rimIn for the brink's points that lie lower than top over the face.
func (f *face) rimBelow(h hollow, b *brink, g grain, top float64) (candidate, bool) {
	// A hole's rim lies a little inside the face's last points, and the
	// hollow's disc may be smaller than the hole by a cell or two.
	reach := max(4*g.spacing, 0.15*h.r)
	var idx []int32
	b.grid.within(h.x, h.y, h.r+reach, func(i int32) {
		if b.drop[i] < top && math.Hypot(b.pts[i][0]-h.x, b.pts[i][1]-h.y) > h.r-2*reach {
			idx = append(idx, i)
		}
	})
	if len(idx) < rimPoints {
		return candidate{}, false
	}
	slices.Sort(idx)
	start, ok := b.circleAmong(idx, h, g)
	if !ok {
		return candidate{}, false
	}
	// From here on only what lies near that circle: the brink of a gap that the
	// hole runs into would count as residuals.
	near := max(1.2*g.spacing, 3*g.noise)
	idx = slices.DeleteFunc(idx, func(i int32) bool {
		return math.Abs(math.Hypot(b.pts[i][0]-start.x, b.pts[i][1]-start.y)-start.r) > near
	})
	pts := make([][2]float64, len(idx))
	for k, i := range idx {
		pts[k] = b.pts[i]
	}
	d, err := robustDisc(pts, &start, g.noise/4)
	if err != nil || b.count(idx, d.weight) < rimPoints || d.r < g.spacing && !g.drawn() || d.r < h.r*0.7 || d.r > h.r*1.4+reach ||
		math.Hypot(d.x-h.x, d.y-h.y) > 0.6*h.r+2*g.spacing {
		return candidate{}, false
	}
	s := newArcSeries(pts, d)
	if s.arc() < math.Pi*5/6 || d.lobes(pts) > lobesMost*d.r+g.noise || !b.round(f, d, idx, pts, g) {
		return candidate{}, false
	}
	drop := 0.0
	for k, i := range idx {
		if d.weight[k] > 0 {
			drop = min(drop, b.drop[i])
		}
	}
	return candidate{
		face: f, x: d.x, y: d.y, r: d.r, from: Rim, series: s, scale: d.scale,
		lo: drop, hi: 0, points: d.used,
	}, true
}

// circleAmong returns the circle about the hollow that most of the brink's
// points which turn down lie on, direction by direction: the best of circles
// through three of them drawn at random (Fischler and Bolles, Communications of
// the ACM 24 (1981) 381-395), the draws following from the points alone.
func (b *brink) circleAmong(idx []int32, h hollow, g grain) (disc, bool) {
	var down []int32
	for _, i := range idx {
		if b.drop[i] < -max(g.noise, 0.03*g.spacing) || g.drawn() {
			down = append(down, i)
		}
	}
	if len(down) < rimPoints {
		return disc{}, false
	}
	const trials = 200
	tol := max(0.4*g.spacing, 3*g.noise)
	rng := rand.New(rand.NewPCG(uint64(len(down)), uint64(down[0])))
	var best disc
	most := 0
	for range trials {
		p, q, r := b.pts[down[rng.IntN(len(down))]], b.pts[down[rng.IntN(len(down))]], b.pts[down[rng.IntN(len(down))]]
		x, y, cr, ok := through(p, q, r)
		if !ok || math.Hypot(x-h.x, y-h.y) > 0.6*h.r+2*g.spacing || cr < 0.7*h.r || cr > 1.4*h.r+4*g.spacing {
			continue
		}
		var seen [36]bool
		n := 0
		for _, i := range down {
			dx, dy := b.pts[i][0]-x, b.pts[i][1]-y
			if math.Abs(math.Hypot(dx, dy)-cr) > tol {
				continue
			}
			if s := min(int(wrap(math.Atan2(dy, dx))/(2*math.Pi)*36), 35); !seen[s] {
				seen[s] = true
				n++
			}
		}
		if n > most {
			most, best = n, disc{x: x, y: y, r: cr}
		}
	}
	return best, most >= 12
}

// through returns the circle through three points; ok is false where they are
// all but on a line.
func through(p, q, r [2]float64) (x, y, radius float64, ok bool) {
	ax, ay, bx, by := q[0]-p[0], q[1]-p[1], r[0]-p[0], r[1]-p[1]
	d := 2 * (ax*by - ay*bx)
	span := max(math.Hypot(ax, ay), math.Hypot(bx, by), math.Hypot(bx-ax, by-ay))
	if math.Abs(d) <= 0.02*span*span {
		return 0, 0, 0, false
	}
	a2, b2 := ax*ax+ay*ay, bx*bx+by*by
	ux, uy := (by*a2-ay*b2)/d, (ax*b2-bx*a2)/d
	return p[0] + ux, p[1] + uy, math.Hypot(ux, uy), true
}

// round reports whether the brink about the disc is a hole's: a circle that
// turns down, with nothing that says otherwise.
func (b *brink) round(f *face, d disc, idx []int32, pts [][2]float64, g grain) bool {
	const sectors = 36
	if b.scattered(d, idx, pts, g) {
		return false
	}
	// Turned down: the rim below the face around it, direction by direction,
	// so that waves of the noise cancel.
	var rim, level [sectors]float64
	var rimN, levelN [sectors]int
	at := func(p [2]float64) int {
		return min(int(wrap(math.Atan2(p[1]-d.y, p[0]-d.x))/(2*math.Pi)*sectors), sectors-1)
	}
	for k, i := range idx {
		if d.weight[k] > 0 {
			s := at(pts[k])
			rim[s] += b.drop[i]
			rimN[s]++
		}
	}
	for s := range sectors {
		if rimN[s] > 0 {
			rim[s] /= float64(rimN[s])
		}
	}
	f.grid.within(d.x, d.y, d.r+8*g.spacing, func(i int32) {
		p := f.pts[i]
		if math.Hypot(p[0]-d.x, p[1]-d.y) < d.r+2*g.spacing {
			return
		}
		s := at(p)
		level[s] += f.height[i]
		levelN[s]++
	})
	down, both, faced := 0, 0, 0
	var sum float64
	for s := range sectors {
		if rimN[s] == 0 {
			continue
		}
		l := 0.0
		if levelN[s] > 0 {
			l = level[s] / float64(levelN[s])
			faced++
		}
		both++
		sum += rim[s] - l
		if rim[s]-l < -0.5*g.noise {
			down++
		}
	}
	// The face must come up to the rim: a bore's wall that passes the height of a
	// face elsewhere is no rim of it.
	if 2*faced < both {
		return false
	}
	// As deep as that by chance: points within two spacings share their noise.
	if free := math.Pi * d.r / g.spacing; sum/float64(both)*math.Sqrt(free) > -6*g.noise {
		down = 0
	}
	exact := d.scale < 0.02*g.spacing && g.drawn()
	if !exact && (float64(down) < 0.8*float64(both) || sum/float64(both) > -0.4*g.sink()) {
		return false
	}
	// Openings: where the disc's edge shows no rim, the hollow must not run on
	// to another edge that turns down, as a slot's does.
	beyond := b.sectors(d.x, d.y, d.r*1.12+2*g.spacing, 3*d.r, sectors)
	opened := 0
	for s := range sectors {
		if rimN[s] > 0 || beyond[s] < 0 {
			continue
		}
		i := beyond[s]
		p := b.pts[i]
		far := math.Hypot(p[0]-d.x, p[1]-d.y)
		if b.drop[i] < -0.75*g.sink() && f.clear(d.x, d.y, p, d.r, far-2*g.spacing, g) {
			opened++
		}
	}
	return opened < sectors/9
}

// scattered reports whether a rim's points lie off the disc by more than a rounded
// edge does, which scatters its rim by part of a spacing; where it is seen at several
// depths by more, but little at each of them.
func (b *brink) scattered(d disc, idx []int32, pts [][2]float64, g grain) bool {
	return d.scale > max(3*g.noise, 0.4*g.spacing) && b.level(d, idx, pts) > max(3*g.noise, 0.26*g.spacing)
}

// level is the scatter of a rim's points about the disc at each depth by itself,
// mm: the standard deviation, by the median, of their distances from the median
// of those as deep.
func (b *brink) level(d disc, idx []int32, pts [][2]float64) float64 {
	const depths = 6
	type point struct{ drop, off float64 }
	var rim []point
	for k, p := range pts {
		if d.weight[k] > 0 {
			rim = append(rim, point{b.drop[idx[k]], math.Hypot(p[0]-d.x, p[1]-d.y) - d.r})
		}
	}
	slices.SortStableFunc(rim, func(p, q point) int { return cmp.Compare(p.drop, q.drop) })
	var off []float64
	for k := range depths {
		var same []float64
		for _, p := range rim[k*len(rim)/depths : (k+1)*len(rim)/depths] {
			same = append(same, p.off)
		}
		m := median(same)
		for _, v := range same {
			off = append(off, math.Abs(v-m))
		}
	}
	return median(off) / 0.67449
}

// clear reports whether the face has no points along the way from lo to hi on
// the line from (x, y) to p.
func (f *face) clear(x, y float64, p [2]float64, lo, hi float64, g grain) bool {
	far := math.Hypot(p[0]-x, p[1]-y)
	ux, uy := (p[0]-x)/far, (p[1]-y)/far
	for at := lo; at <= hi; at += g.spacing {
		if f.inside(x+ux*at, y+uy*at, 0.8*g.spacing) > 0 {
			return false
		}
	}
	return true
}
