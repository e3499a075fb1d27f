package bolt

import (
	"math"
	"slices"
)

// rimPoints is the least number of points of a rim on a mesh.
const rimPoints = 12

// rimIn fits the rim of a hole in a hollow of the face, from the face's brink.
// ok is false where the brink is not a circle that turns down: a slot, a
// corner, a boss (which turns up), or a gap in the scan (which does not turn).
func (f *face) rimIn(h hollow, b *brink, g grain) (candidate, bool) {
	// A hole's rim lies a little inside the face's last points, and the
	// hollow's disc may be smaller than the hole by a cell or two.
	reach := max(4*g.spacing, 0.15*h.r)
	var idx []int32
	b.grid.within(h.x, h.y, h.r+reach, func(i int32) {
		if math.Hypot(b.pts[i][0]-h.x, b.pts[i][1]-h.y) > h.r-2*reach {
			idx = append(idx, i)
		}
	})
	if len(idx) < rimPoints {
		return candidate{}, false
	}
	slices.Sort(idx)
	pts := make([][2]float64, len(idx))
	for k, i := range idx {
		pts[k] = b.pts[i]
	}
	d, err := robustDisc(pts, nil, g.noise/4)
	if err != nil || d.used < rimPoints || d.r < h.r*0.7 || d.r > h.r*1.4+reach ||
		math.Hypot(d.x-h.x, d.y-h.y) > 0.5*h.r+g.spacing {
		return candidate{}, false
	}
	s := newArcSeries(pts, d.weight, d.x, d.y, d.r)
	if s.arc() < math.Pi*5/6 || !b.round(f, d, idx, pts, g) {
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

// round reports whether the brink about the disc is a hole's: a circle that
// turns down, with nothing that says otherwise.
func (b *brink) round(f *face, d disc, idx []int32, pts [][2]float64, g grain) bool {
	const sectors = 36
	// Residuals: a rounded edge scatters its rim by part of a spacing.
	if d.scale > max(3*g.noise, 0.4*g.spacing) {
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
	exact := d.scale < 0.02*g.spacing && g.drawn()
	if !exact && (float64(down) < 0.7*float64(both) || sum/float64(both) > -max(1.2*g.noise, 0.05*g.spacing)) {
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
		if b.drop[i] < -max(1.2*g.noise, 0.05*g.spacing) && f.clear(d.x, d.y, p, d.r, far-2*g.spacing, g) {
			opened++
		}
	}
	return opened < sectors/9
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
