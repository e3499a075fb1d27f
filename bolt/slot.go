package bolt

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/bolt/hole"
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

// findLong looks for slots and rectangles: where an edge shows one, where a place is long,
// where the wall of what was taken for a hole is one's, and between two walls of like
// radius that are no holes'. The wall, where it tells, is better than the edge.
func (f *finder) findLong(ctx context.Context, byWall []*opening) error {
	type start struct {
		fc  *face
		at  hole.Outline
		rim *opening
	}
	var starts []start
	for _, o := range f.long {
		starts = append(starts, start{o.fc, o.Outline, o})
	}
	for _, fc := range f.faces {
		for _, p := range fc.places {
			if p.Long.A > 1.05*p.Long.B && p.R > 1.5*f.grain.spacing {
				starts = append(starts, start{fc: fc, at: p.Long})
			}
		}
	}
	for _, p := range f.betweenWalls() {
		starts = append(starts, start{fc: p.fc, at: p.Outline})
	}
	found := make([]*opening, len(starts))
	err := parallel.Chunks(ctx, f.jobs, len(starts), 1, func(k, _ int) {
		s := &starts[k]
		if f.grain.drawn() {
			if found[k] = s.rim; s.rim != nil && f.goesDown(s.rim) {
				s.rim.height = make([]float64, len(s.rim.pts))
			}
		} else if o, ok := f.longByWall(s.fc, s.at); ok {
			found[k] = o
		} else {
			found[k] = s.rim
		}
	})
	found = slices.Concat(found, byWall)
	found = slices.DeleteFunc(found, func(o *opening) bool { return o == nil })
	// By wall before by rim, then what gains most.
	slices.SortStableFunc(found, func(p, q *opening) int {
		if (p.height != nil) != (q.height != nil) {
			if p.height != nil {
				return -1
			}
			return 1
		}
		return cmp.Compare(q.Gain, p.Gain)
	})
	for _, o := range found {
		f.takeLong(o)
	}
	return err
}

// takeLong adds a slot or a rectangle instead of the holes in it, unless there is a stud
// in it, or another, or where but its rim is seen the whole wall of a hole.
func (f *finder) takeLong(o *opening) {
	in := func(c *candidate) bool { return c.face == o.fc && o.Off([2]float64{c.x, c.y}) < -0.3*o.B }
	round := func(c *candidate) bool {
		return in(c) && (o.height == nil || c.series.arc() > 5*math.Pi/3) && c.from == Wall
	}
	if slices.ContainsFunc(f.studs, in) || slices.ContainsFunc(f.holes, round) ||
		slices.ContainsFunc(f.slots, func(s *slot) bool { return in(s.ends[0]) || in(s.ends[1]) }) ||
		slices.ContainsFunc(f.rectangles, func(r *opening) bool {
			return r.fc == o.fc && r.Off([2]float64{o.X, o.Y}) < 0
		}) {
		return
	}
	if o.Kind == hole.Rectangle {
		f.rectangles = append(f.rectangles, o)
	} else if s, ok := f.slotOf(o); ok {
		for i := range f.cylinders {
			if c := &f.cylinders[i]; c.Internal && o.fc.square(c) && (s.ends[0].on(c) || s.ends[1].on(c)) {
				s.walls = append(s.walls, c.ID)
			}
		}
		f.slots = append(f.slots, &s)
	} else {
		return
	}
	f.holes, f.rims = slices.DeleteFunc(f.holes, in), slices.DeleteFunc(f.rims, in)
}

// on reports whether the cylinder, perpendicular to the candidate's face, is the one whose
// wall or rim it is.
func (c *candidate) on(w *segment.Cylinder) bool {
	at := c.face.flat.xy(meet(w.Point, w.Axis, c.face.flat))
	return math.Hypot(at[0]-c.x, at[1]-c.y)+math.Abs(w.Radius-c.r) < 0.15*c.r
}

// raised reports whether the floor of a drawing's opening is level with a larger face
// that looks the same way, or its face goes on within it: it is a gap between raised
// strokes, or an engraved one.
func (f *finder) raised(fc *face, o hole.Outline) bool {
	if !f.grain.drawn() {
		return false
	}
	middle := fc.flat.at([2]float64{o.X, o.Y})
	return slices.ContainsFunc(f.faces, func(b *face) bool {
		if b == fc || b.flat.n.Dot(fc.flat.n) < 0.999 {
			return false
		}
		h, at := b.flat.height(middle), b.flat.xy(middle)
		level := math.Abs(h) < leastDepth*o.B
		return level && b.inside(at[0], at[1], o.A) > 0 || h > 0 && (level || b.area > fc.area) && b.around(at[0], at[1], 0, o.B) > 0
	})
}

// goesDown reports whether a drawing's wall goes straight down from an opening's edge.
func (f *finder) goesDown(o *opening) bool {
	w := f.wallsAbout(o.fc, o.Outline, o.B, -leastDepth*o.B, -leastDepth*o.B)
	d, ok := f.evidence(o.fc, w.xy, true).Explain(o.Outline)
	return ok && d.Kind == o.Kind && math.Abs(d.A-o.A)+math.Abs(d.B-o.B) < 0.02*o.B
}

// leastDepth is that of a drawing's opening over half its width.
const leastDepth = 0.1

// betweenWalls returns the slots between two walls of one radius that are no holes'. A
// gap in the scan as wide as the slot and beside it hides the slot's place, not its ends.
func (f *finder) betweenWalls() []*opening {
	const alike, longest = 0.06, 24 // of the radius; chosen by simulation (TestEndsAndCornersAreNoHoles)
	var out []*opening
	var ends []int
	for i := range f.cylinders {
		c := &f.cylinders[i]
		if c.Internal && !slices.ContainsFunc(f.holes, func(h *candidate) bool { return h.wall == c.ID }) {
			ends = append(ends, i)
		}
	}
	for _, fc := range f.faces {
		for k, i := range ends {
			for _, j := range ends[k+1:] {
				a, b := &f.cylinders[i], &f.cylinders[j]
				r := (a.Radius + b.Radius) / 2
				if math.Abs(a.Radius-b.Radius) > alike*r || !fc.square(a) || !fc.square(b) {
					continue
				}
				p, q := fc.flat.xy(meet(a.Point, a.Axis, fc.flat)), fc.flat.xy(meet(b.Point, b.Axis, fc.flat))
				dx, dy := q[0]-p[0], q[1]-p[1]
				if l := math.Hypot(dx, dy); l > 0.05*r && l < 2*longest*r {
					out = append(out, &opening{fc: fc, Opening: hole.Opening{Outline: hole.Outline{
						X: (p[0] + q[0]) / 2, Y: (p[1] + q[1]) / 2, Angle: math.Atan2(dy, dx), A: l/2 + r, B: r, C: r}}})
				}
			}
		}
	}
	return out
}

// slotOf makes candidates of both ends; ok is false where too little of either was
// seen.
func (f *finder) slotOf(o *opening) (slot, bool) {
	g := f.grain
	near := max(1.2*g.spacing, 3*g.noise)
	if o.height != nil {
		near = max(5*g.noise, 0.5*g.spacing)
	}
	if g.drawn() {
		near = 0.05 * o.B
	}
	var s slot
	for k := range s.ends {
		side := float64(2*k - 1)
		at := o.Global(side*(o.A-o.C), 0)
		w := window{o.Angle + float64(1-k)*math.Pi, endHalf}
		var pts [][2]float64
		var height []float64
		for i, p := range o.pts {
			if math.Abs(o.Off(p)) <= near && w.has(p[0]-at[0], p[1]-at[1]) {
				pts = append(pts, p)
				if o.height != nil {
					height = append(height, o.height[i])
				}
			}
		}
		d, err := robustDisc(pts, &disc{x: at[0], y: at[1], r: o.C}, g.noise/4)
		if err != nil || d.used < rimPoints || math.Hypot(d.x-at[0], d.y-at[1])+math.Abs(d.r-o.C) > 0.3*o.C+2*g.spacing {
			return s, false
		}
		series, from := newArcSeries(pts, d), Rim
		if height != nil {
			series, from = newWallSeries(pts, height, d), Wall
		}
		if series.arc() < 2*math.Pi/3 {
			return s, false
		}
		s.ends[k] = &candidate{face: o.fc, x: d.x, y: d.y, r: d.r, from: from, series: series,
			scale: d.scale, points: d.used, window: w}
		if height != nil {
			s.ends[k].lo, s.ends[k].hi = slices.Min(height), slices.Max(height)
		}
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
