package bolt

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/bolt/hole"
	"spotface/mesh/parallel"
)

// Slots and rectangles are measured by their whole outline, by the wall where the scan
// shows it, else by the rim, with the noise of round holes that scatter alike.

// findLong looks for slots and rectangles: where an edge shows one, where a place is long,
// where a wall that was assumed to be a hole's is one's, and between two walls of like
// radius that are no holes'. A wall is better than an edge.
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
		byWall := func(o *opening) int { return min(len(o.height), 1) }
		return cmp.Or(byWall(q)-byWall(p), cmp.Compare(q.Gain, p.Gain))
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
		slices.ContainsFunc(f.taken, func(t *opening) bool {
			return t.fc == o.fc && (t.Off([2]float64{o.X, o.Y}) < 0 || o.Off([2]float64{t.X, t.Y}) < 0)
		}) {
		return
	}
	if o.Kind == hole.Slot && o.height == nil { // its ends show how edges are rounded
		for _, turn := range [2]float64{0, math.Pi} {
			at := o.Global((o.A-o.C)*math.Cos(turn), 0)
			f.ends = append(f.ends, &candidate{face: o.fc, x: at[0], y: at[1], r: o.C, end: window{o.Angle + turn, endHalf}})
		}
	}
	f.taken = append(f.taken, o)
	f.holes, f.rims = slices.DeleteFunc(f.holes, in), slices.DeleteFunc(f.rims, in)
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
		return level && b.around(at[0], at[1], 0, o.A) > 0 || h > 0 && (level || b.area > fc.area) && b.around(at[0], at[1], 0, o.B) > 0
	})
}

// goesDown reports whether a drawing's wall goes straight down from an opening's edge.
func (f *finder) goesDown(o *opening) bool {
	w := f.wallsAbout(o.fc, o.Outline, o.B, -leastDepth*o.B, -leastDepth*o.B)
	d, ok := f.evidence(o.fc, w.xy, true).Explain(o.Outline)
	return ok && d.Kind == o.Kind && math.Abs(d.A-o.A)+math.Abs(d.B-o.B) < 0.02*o.B
}

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

// warning says of an opening that measured refused that it is there.
func (o *opening) warning() string {
	at := o.fc.flat.at([2]float64{o.X, o.Y})
	return fmt.Sprintf("A long opening about %.1f mm wide in face %s at %.1f, %.1f, %.1f (in the scan) is none that this scan can measure: too little of its outline is seen.",
		2*o.B, o.fc.id, at.X, at.Y, at.Z)
}

// longCandidates fits the outlines of slots and rectangles to their points; weigh measures
// them beside the walls or the rims of holes.
func (f *finder) longCandidates() (walls, rims []*candidate) {
	g := f.grain
	for _, o := range f.taken {
		band := max(1.2*g.spacing, 5*g.noise)
		if g.drawn() {
			band = 0.05 * o.B
		}
		at, scale, ok := o.Fit(o.Kind, o.pts, band, g.noise/4, hole.Settled*o.B)
		if !ok {
			continue
		}
		c := &candidate{face: o.fc, long: o, scale: scale}
		if d := (disc{Outline: at, scale: scale}); o.height == nil {
			c.series = newSeries(o.pts, o.Kind, d)
			rims = append(rims, c)
		} else {
			c.series = newWallSeries(o.pts, o.height, o.Kind, d)
			walls = append(walls, c)
		}
	}
	return walls, rims
}

// measured returns a slot or a rectangle as a Hole without an id; ok is false where too
// little of it is seen. A rim reads large by what rims of the scan do. Smoothing moves
// a curved wall inward, so that a slot's ends read near; its flanks, as the sides of a
// rectangle, do not move.
func (f *finder) measured(o *opening) (Hole, bool) {
	if !o.known {
		return Hole{}, false
	}
	g, at, per, cov := f.grain, o.Outline, o.Perimeter(), o.cov
	if o.Kind == hole.Slot && at.A-at.B < 3*math.Sqrt(cov.At(3, 3)) {
		return Hole{}, false // as well a round hole
	}
	from := Wall
	long, wide, unseen := 0.0, 0.0, 0.0 // what the halves read too large
	switch {
	case o.height == nil:
		from = Rim
		long, unseen = f.rimsReadLarge()
		wide = long
	case o.Kind == Slot && f.smoothed():
		r, u := Unsmoothed(at.C, f.edgeWidth, f.edgeWidthU, g.spacing)
		long, wide, unseen = at.C-r, (at.C-r)*2*math.Pi*at.C/per, u
	}
	fl := o.fc.flat
	h := Hole{Kind: o.Kind, Centre: fl.at([2]float64{at.X, at.Y}), Axis: fl.n, Face: o.fc.id, From: from,
		Arc: s1.Angle(2 * math.Pi * min(1, o.Arc*o.B/o.Perimeter())), CentreDOF: o.dof, UnseenU: 2 * unseen,
		Length: 2 * (at.A - long), LengthU: 2 * math.Hypot(math.Sqrt(cov.At(3, 3)), unseen),
		Width: 2 * (at.B - wide), WidthU: 2 * math.Hypot(math.Sqrt(cov.At(4, 4)), unseen),
		DirectionU: s1.Angle(math.Sqrt(cov.At(2, 2)))}
	sin, cos := math.Sincos(at.Angle)
	h.Direction = fl.e1.Mul(cos).Add(fl.e2.Mul(sin))
	if h.Direction.Dot(laidX(fl.n)) < 0 {
		h.Direction = h.Direction.Mul(-1)
	}
	own := [2][2]float64{{cos, -sin}, {sin, cos}}
	h.CentreCov = rotated(own, [2][2]float64{{cov.At(0, 0), cov.At(0, 1)}, {cov.At(1, 0), cov.At(1, 1)}}, own)
	if o.Kind == Slot {
		h.EndWalls = f.wallsOfEnds(o.fc, at)
	}
	return h, true
}

// wallsOfEnds returns the ids of the cylinders, perpendicular to the face, of a slot's ends.
func (f *finder) wallsOfEnds(fc *face, o hole.Outline) (ids []string) {
	for i := range f.cylinders {
		c := &f.cylinders[i]
		if !c.Internal || !fc.square(c) {
			continue
		}
		at := fc.flat.xy(meet(c.Point, c.Axis, fc.flat))
		for _, side := range [2]float64{-1, 1} {
			end := o.Global(side*(o.A-o.C), 0)
			if math.Hypot(at[0]-end[0], at[1]-end[1])+math.Abs(c.Radius-o.C) < 0.15*o.C {
				ids = append(ids, c.ID)
				break
			}
		}
	}
	return ids
}

// rimsReadLarge is how far, mm, rims of this scan lie outside their walls, and its
// standard uncertainty: as those of round holes and of the ends of slots do, or not known.
func (f *finder) rimsReadLarge() (by, u float64) {
	if f.grain.drawn() || !f.scan.IsMesh() {
		return 0, 0
	}
	var large, open []float64
	for _, c := range slices.Concat(f.rims, f.ends) {
		if c.rimR > 0 && !c.asRead {
			large = append(large, c.rimR-c.r)
			open = append(open, c.extraR)
		}
	}
	if len(large) == 0 {
		return 0, f.grain.spacing
	}
	by = median(large)
	return by, math.Hypot(median(open), 0.2*by) // of edges that are round of their own accord
}
