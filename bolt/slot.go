package bolt

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/fit/segment"
	"spotface/mesh/parallel"
)

// A slot is two half circles of one radius and the straight flanks between them.
// Its ends are measured like holes, each by the half of its circle that there
// is: by the wall, where the scan shows it, else on a mesh by the rim, rounding
// allowed for, with the same noise as the holes'. The flanks must be there; for
// the numbers they are left out, since the ends alone say them all.

// slot is a slot of a face.
type slot struct {
	ends  [2]*candidate
	walls []string // ids of the cylinders of its ends
}

// window is the part of a circle that a candidate may use: half an angle, rad,
// either side of a direction; all of it where half is 0.
type window struct{ at, half float64 }

// endHalf is how much of an end is used: the last degrees are left to the flanks.
const endHalf = 85 * math.Pi / 180

func (w window) has(dx, dy float64) bool {
	return w.half == 0 || math.Abs(wrapHalf(math.Atan2(dy, dx)-w.at)) <= w.half
}

// findSlots looks for slots in the long hollows of every face, in those whose wall a
// circle left much of out (of a short slot it leaves out the ends), and between walls
// that are no holes'.
func (f *finder) findSlots(ctx context.Context) error {
	var places []slotPlace
	for k, fc := range f.faces {
		for _, h := range f.hollows[k] {
			if h.long.half == 0 || h.r < 1.5*f.grain.spacing && !f.grain.drawn() {
				continue
			}
			p := slotPlace{fc: fc, hollow: h}
			if f.scan.IsMesh() {
				p.rim = &f.brinks[k]
			}
			places = append(places, p)
		}
	}
	for _, c := range f.holes {
		if h, ok := f.short(c); ok {
			places = append(places, slotPlace{fc: c.face, hollow: h})
		}
	}
	places = append(places, f.betweenWalls()...)
	found, ok := make([]slot, len(places)), make([]bool, len(places))
	err := parallel.Chunks(ctx, f.jobs, len(places), 1, func(k, _ int) {
		p := &places[k]
		if f.grain.drawn() && f.island(p.fc, p.hollow) {
			return
		}
		if found[k], ok[k] = f.slotByWall(p.fc, p.hollow); !ok[k] && p.rim != nil {
			found[k], ok[k] = f.slotByRim(p.fc, p.hollow, p.rim)
		}
	})
	for k := range places {
		if ok[k] {
			f.takeSlot(found[k], places[k].hollow)
		}
	}
	return err
}

// mostEnd is the most of a circle, rad, that the wall of a slot's end shows: half of
// it, and what the beginning of the flanks may add.
const mostEnd = 200 * math.Pi / 180

// takeSlot adds the slot, instead of holes, unless the hollow holds a stud or a slot,
// or, where but its rim is a slot's, a wall that goes too far round for one's end: then
// the rim is that of a gap in the scan beside a hole.
func (f *finder) takeSlot(s slot, h hollow) {
	in := func(c *candidate) bool { return c.face == s.ends[0].face && h.has(c.x, c.y) }
	round := func(c *candidate) bool { return in(c) && s.ends[0].from == Rim && c.series.arc() > mostEnd }
	if slices.ContainsFunc(f.studs, in) || slices.ContainsFunc(f.holes, round) ||
		slices.ContainsFunc(f.slots, func(s *slot) bool { return in(s.ends[0]) || in(s.ends[1]) }) {
		return
	}
	for i := range f.cylinders {
		if c := &f.cylinders[i]; c.Internal && s.ends[0].face.square(c) && (s.ends[0].on(c) || s.ends[1].on(c)) {
			s.walls = append(s.walls, c.ID)
		}
	}
	f.slots = append(f.slots, &s)
	f.holes, f.rims = slices.DeleteFunc(f.holes, in), slices.DeleteFunc(f.rims, in)
}

// on reports whether the cylinder, perpendicular to the candidate's face, is the one whose
// wall or rim it is.
func (c *candidate) on(w *segment.Cylinder) bool {
	at := c.face.flat.xy(meet(w.Point, w.Axis, c.face.flat))
	return math.Hypot(at[0]-c.x, at[1]-c.y)+math.Abs(w.Radius-c.r) < 0.15*c.r
}

// short returns the long hollow that the wall of a hole may be of, where its
// circle left out a sixth of it or more: with the second harmonic of the wall's
// distances from the axis, of which a slot with a middle line of 2a has 4a/3π.
func (f *finder) short(c *candidate) (hollow, bool) {
	if c.from != Wall || c.series.arc() > 5*math.Pi/3 {
		return hollow{}, false
	}
	round := outline{oblong{x: c.x, y: c.y, ux: 1}, c.r}
	w := f.gatherRound(c.face, &round, 0.3*c.r)
	var n, cs, sn [sectorCount]float64
	pts, _ := w.between(c.lo, c.hi, f.grain)
	for _, p := range pts {
		a := math.Atan2(p[1]-c.y, p[0]-c.x)
		sin, cos := math.Sincos(2 * a)
		e := math.Hypot(p[0]-c.x, p[1]-c.y) - c.r
		k := min(int(wrap(a)/(2*math.Pi)*sectorCount), sectorCount-1)
		n[k], cs[k], sn[k] = n[k]+1, cs[k]+e*cos, sn[k]+e*sin
	}
	var seen, x, y float64
	for k := range n {
		if n[k] > 0 {
			seen, x, y = seen+1, x+cs[k]/n[k], y+sn[k]/n[k]
		}
	}
	if seen < sectorCount*5/6 {
		return hollow{}, false
	}
	half := 2 / seen * math.Hypot(x, y) * 3 * math.Pi / 4
	sin, cos := math.Sincos(math.Atan2(y, x) / 2)
	return hollow{x: c.x, y: c.y, r: c.r, long: oblong{x: c.x, y: c.y, ux: cos, uy: sin, half: half}}, half > 0.03*c.r
}

// has reports whether (x, y) lies on the long hollow's middle line or so near that
// no hole beside the hollow could.
func (h hollow) has(x, y float64) bool {
	dx, dy := x-h.long.x, y-h.long.y
	t := math.Abs(dx*h.long.ux + dy*h.long.uy)
	return math.Hypot(max(t-h.long.half, 0), dy*h.long.ux-dx*h.long.uy) < 0.7*h.r
}

// slotByWall measures the slot in a hollow by its wall.
func (f *finder) slotByWall(fc *face, h hollow) (slot, bool) {
	g := f.grain
	o := outline{h.long, h.r}
	band := 3*fc.map2.cell + 2*g.spacing + 3*g.noise // the hollow's cells, and rounded edges
	if g.drawn() {
		band = max(3*fc.map2.cell, 0.05*o.r)
	}
	rough := max(4*g.noise, 0.12*g.spacing)
	var pts [][2]float64
	var height []float64
	var ends [2]disc
	var of [2][]int32
	var lo, hi float64
	for range 3 {
		w := f.gatherRound(fc, &o, band)
		if len(w.height) < 4*rimPoints {
			return slot{}, false
		}
		sorted := slices.Sorted(slices.Values(w.height))
		lo, hi = sorted[len(sorted)/50], sorted[len(sorted)-1-len(sorted)/50]
		if hi < -max(min(6*g.spacing, 1.5*o.r), 10*g.noise, 0.3*o.r) || hi-lo < 4*g.spacing && !g.drawn() {
			return slot{}, false // not of this face, or too little of it
		}
		pts, height = w.between(lo, hi, g)
		var ok bool
		if ends, of, ok = o.fit(pts, g); !ok {
			return slot{}, false
		}
		band = 5 * max(ends[0].scale, ends[1].scale, g.noise)
	}
	if max(ends[0].scale, ends[1].scale) > rough || !f.isSlot(fc, &o, ends, pts, rough) ||
		g.drawn() && (hi-lo < leastDepth*o.r || f.between(fc, &o, lo)) {
		return slot{}, false
	}
	s, ok := f.slotOf(fc, &o, ends, pts, height, of)
	for _, c := range s.ends {
		if ok {
			c.lo, c.hi = lo, hi
		}
	}
	return s, ok
}

// leastDepth is that of a drawing's slot over the radius of its ends.
const leastDepth = 0.1

// island reports whether a face that is level with fc lies in the middle of a hollow: then
// that is the groove of an engraved letter.
func (f *finder) island(fc *face, h hollow) bool {
	top := fc.flat.at([2]float64{h.long.x, h.long.y})
	return slices.ContainsFunc(f.faces, func(b *face) bool {
		at := b.flat.xy(top)
		return b != fc && b.flat.n.Dot(fc.flat.n) > 0.999 && math.Abs(b.flat.height(top)) < leastDepth*h.r &&
			b.inside(at[0], at[1], h.long.half+0.9*h.r) > 0
	})
}

// between reports whether a slot's bottom, lo below its face, is level with a larger face
// that looks the same way: then it is a gap between what is raised.
func (f *finder) between(fc *face, o *outline, lo float64) bool {
	floor := fc.flat.at([2]float64{o.x, o.y}).Add(fc.flat.n.Mul(lo))
	return slices.ContainsFunc(f.faces, func(b *face) bool {
		return b.area > fc.area && b.flat.n.Dot(fc.flat.n) > 0.999 && math.Abs(b.flat.height(floor)) < leastDepth*o.r
	})
}

// gatherRound returns the scan's points below the face whose feet lie within band
// of the outline and whose normals, where known, look into the slot.
func (f *finder) gatherRound(fc *face, o *outline, band float64) wallPoints {
	var w wallPoints
	for _, i := range f.near(fc, o.x, o.y, max(0, o.r-band), o.half+o.r+band, -f.size, 2*f.grain.noise) {
		q := f.scan.Point(int(i))
		d, nx, ny := o.off(fc.flat.xy(q))
		if math.Abs(d) > band || fc.flat.height(q) > 2*f.grain.noise {
			continue
		}
		if nv := f.scan.Normal(int(i)); nv.Norm2() > 0 && !f.grain.drawn() &&
			nv.Dot(fc.flat.e1)*nx+nv.Dot(fc.flat.e2)*ny > -math.Sqrt2/2 {
			continue
		}
		w.add(f.scan, fc, int(i), f.grain)
	}
	return w
}

// isSlot reports whether the points about the outline are a slot's: its ends of
// like radius and clearly apart, its flanks there, and no four corners.
func (f *finder) isSlot(fc *face, o *outline, ends [2]disc, pts [][2]float64, rough float64) bool {
	g := f.grain
	if math.Abs(ends[0].r-ends[1].r) > 0.06*o.r+0.5*g.spacing || fc.area < leastRing*math.Pi*o.r*o.r ||
		math.Abs(o.cornered(pts, 5*rough)) > 0.06*o.r+g.noise/2 {
		return false
	}
	if g.drawn() { // of which the spacing says nothing, and which has no points on flanks
		return 2*o.half > 0.05*o.r
	}
	return 2*o.half > max(0.1*o.r, 10*g.noise, 0.3*g.spacing) &&
		o.flanked(pts, g, max(rough, 1.5*ends[0].scale, 1.5*ends[1].scale))
}

// slotOf makes candidates of both ends; ok is false where too little of either was
// seen. Points without heights are a rim's.
func (f *finder) slotOf(fc *face, o *outline, ends [2]disc, pts [][2]float64, height []float64, of [2][]int32) (slot, bool) {
	var s slot
	for k, d := range ends {
		_, _, w := o.end(k)
		var its [][2]float64
		var high []float64
		for _, j := range of[k] {
			its = append(its, pts[j])
			if height != nil {
				high = append(high, height[j])
			}
		}
		series, from := newArcSeries(its, d), Rim
		if height != nil {
			series, from = newWallSeries(its, high, d), Wall
		}
		if series.arc() < 2*math.Pi/3 {
			return s, false
		}
		s.ends[k] = &candidate{face: fc, x: d.x, y: d.y, r: d.r, from: from, series: series,
			scale: d.scale, points: d.used, window: w}
	}
	return s, true
}

// warning says of a slot that hole refused that it is there.
func (s *slot) warning() string {
	a, b := s.ends[0], s.ends[1]
	at := a.face.flat.at([2]float64{(a.x + b.x) / 2, (a.y + b.y) / 2})
	return fmt.Sprintf("A long opening about %.1f mm wide in face %s at %.1f, %.1f, %.1f (in the scan) is no slot that this scan can measure: its ends are seen too little, or differ.",
		a.r+b.r, a.face.id, at.X, at.Y, at.Z)
}

// hole returns the slot as a Hole without an id, from its ends' circles, held to
// one radius. ok is false where they do not have one, or are no slot's.
func (s *slot) hole() (Hole, bool) {
	a, b := s.ends[0], s.ends[1]
	var c [6][6]float64 // of x, y, r of both, without what no residual shows
	p := [6]float64{a.x, a.y, a.r, b.x, b.y, b.r}
	for k, e := range s.ends {
		for i := range 3 {
			for j := range 3 {
				c[3*k+i][3*k+j] = e.cov[i][j]
			}
		}
		c[3*k+2][3*k+2] -= e.extraR * e.extraR
	}
	apart, v := a.r-b.r, c[2][2]+c[5][5]
	if !(v > 0) || math.Abs(apart) > 4*math.Sqrt(v)+0.04*a.r || min(a.series.arc(), b.series.arc()) < math.Pi/2 {
		return Hole{}, false
	}
	var gain [6]float64
	for i := range gain {
		gain[i] = (c[i][2] - c[i][5]) / v
	}
	was := c
	for i := range p {
		p[i] -= gain[i] * apart
		for j := range p {
			c[i][j] -= gain[i] * (was[2][j] - was[5][j])
		}
	}
	dx, dy := p[3]-p[0], p[4]-p[1]
	l := math.Hypot(dx, dy)
	ux, uy := dx/l, dy/l
	variance := func(g [6]float64) float64 {
		var sum float64
		for i := range g {
			for j := range g {
				sum += g[i] * g[j] * c[i][j]
			}
		}
		return max(sum, 0)
	}
	extra := max(a.extraR, b.extraR) // the same at both ends
	fl := a.face.flat
	h := Hole{
		Kind: Slot, Centre: fl.at([2]float64{(p[0] + p[3]) / 2, (p[1] + p[4]) / 2}), Axis: fl.n, Face: a.face.id, From: a.from,
		Width: 2 * p[2], Length: l + 2*p[2], Direction: fl.e1.Mul(ux).Add(fl.e2.Mul(uy)),
		WidthU:  math.Hypot(2*math.Sqrt(max(c[2][2], 0)), 2*extra),
		LengthU: math.Hypot(math.Sqrt(variance([6]float64{-ux, -uy, 1, ux, uy, 1})), 2*extra),
		UnseenU: 2 * extra, CentreDOF: min(a.dof, b.dof),
		DirectionU: s1.Angle(math.Sqrt(variance([6]float64{uy, -ux, 0, -uy, ux, 0})) / l),
		Arc:        s1.Angle(min(2*math.Pi, (a.series.arc()+b.series.arc())*math.Pi/(2*endHalf))),
		EndWalls:   s.walls,
	}
	if h.Direction.Dot(laidX(fl.n)) < 0 {
		h.Direction = h.Direction.Mul(-1)
	}
	for i := range 2 {
		for j := range 2 {
			h.CentreCov[i][j] = (c[i][j] + c[i+3][j] + c[i][j+3] + c[i+3][j+3]) / 4
		}
	}
	return h, l > 3*math.Sqrt(variance([6]float64{-ux, -uy, 0, ux, uy, 0}))
}
