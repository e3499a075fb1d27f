package bolt

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spotface/bolt/hole"
	"spotface/mesh/geom"
	"spotface/mesh/parallel"
)

// opening is what bolt/hole makes of a place of a face, with the points that it is
// measured by.
type opening struct {
	hole.Opening
	fc     *face
	pts    [][2]float64
	height []float64 // of a wall's points; nil: a rim's
	// Set by weigh, where known: the covariance of its numbers, see hole.Outline.Moved.
	known bool
	cov   *mat.SymDense
	dof   float64
}

// sink is how far below a face its edge is looked for: clear of the noise, little enough
// not to lose a rounded edge.
func (g grain) sink() float64 {
	if g.drawn() {
		return 10 * g.noise
	}
	return max(4*g.noise, 0.25*g.spacing)
}

// rim is the standard deviation of a piece of a rim: rounded edges scatter by part of a
// spacing.
func (g grain) rim() float64 {
	if g.drawn() {
		return g.noise
	}
	return math.Hypot(g.noise, 0.12*g.spacing)
}

// findRims looks for openings by the edge of every face.
func (f *finder) findRims(ctx context.Context) error {
	found := make([][]*candidate, len(f.faces))
	long := make([][]*opening, len(f.faces))
	err := parallel.Chunks(ctx, f.jobs, len(f.faces), 1, func(k, _ int) {
		fc := f.faces[k]
		fc.places = slices.DeleteFunc(fc.cover.Places(ctx, f.jobs, func(x, y, r float64) float64 {
			return fc.around(x, y, 0, r+max(3*fc.cover.Cell, 2*f.grain.spacing))
		}), func(p hole.Place) bool { return fc.area < leastRing*math.Pi*p.R*p.R })
		if len(fc.places) == 0 {
			return
		}
		if f.scan.IsMesh() {
			found[k], long[k] = f.rimsOf(fc)
			return
		}
		for _, p := range fc.places {
			if c, ok := f.discIn(fc, p); ok {
				found[k] = append(found[k], &c)
			}
		}
	})
	f.rims, f.long = settle(slices.Concat(found...)), slices.Concat(long...)
	return err
}

// rimsOf explains the edge of a mesh's face: at the places where the face is missing, then
// along what stretches of it are left, of holes that run into a gap of the scan.
func (f *finder) rimsOf(fc *face) (round []*candidate, long []*opening) {
	g := f.grain
	step := g.spacing
	if g.drawn() {
		step = f.size / 2000
	}
	fc.edge = hole.EdgeOf(f.scan, f.loops, fc.flat.xy, fc.flat.height, g.sink(), step)
	fc.edge.Sort(3 * step)
	free := make([]bool, len(fc.edge.Pts))
	for i := range free {
		free[i] = true
	}
	take := func(o opening) bool {
		if o.Kind == hole.Round {
			c, ok := f.rimOf(&o)
			if !ok {
				return false
			}
			round = append(round, &c)
		} else {
			long = append(long, &o)
		}
		for _, i := range fc.edge.Near(o.X, o.Y, math.Hypot(o.A, o.B)+2*g.spacing) {
			free[i] = free[i] && o.Off(fc.edge.Pts[i]) > 2*g.spacing
		}
		return true
	}
	for k, p := range fc.places {
		if slices.ContainsFunc(fc.places[:k], func(o hole.Place) bool { return o.Long == p.Long }) {
			continue // the same free space
		}
		if f.raised(fc, p.Long) {
			continue
		}
		at := [2]float64{p.X, p.Y}
		if slices.ContainsFunc(round, func(c *candidate) bool { return math.Hypot(c.x-p.X, c.y-p.Y) < c.r }) ||
			slices.ContainsFunc(long, func(o *opening) bool { return o.Off(at) < 0 }) {
			continue
		}
		reach := max(4*g.spacing, 0.15*p.R)
		idx := fc.edge.Near(p.Long.X, p.Long.Y, math.Hypot(p.Long.A, p.Long.B)+2*p.R+reach)
		if fc.edge.Count(idx) < rimPoints && !g.drawn() {
			continue
		}
		pts := fc.edge.Of(idx)
		if o, ok := f.evidence(fc, pts, true).Explain(p.Long, hole.Circle(p.X, p.Y, p.R)); ok {
			take(opening{Opening: o, fc: fc, pts: fc.edge.OfMesh(idx)})
		}
	}
	if g.drawn() {
		return round, long // nothing is hidden in a drawing
	}
	for _, chain := range fc.edge.Chains(free, 2*g.spacing) {
		if fc.edge.Count(chain) < rimPoints {
			continue
		}
		pts := fc.edge.Of(chain)
		d, err := robustDisc(pts[:min(len(pts), 600)], nil, g.noise/4)
		if err != nil || d.B < 2*g.spacing || fc.area < leastRing*math.Pi*d.B*d.B {
			continue
		}
		all := fc.edge.Of(fc.edge.Near(d.X, d.Y, 3*d.B))
		if o, ok := f.evidence(fc, all, true).Explain(d.Outline); ok && o.Kind == hole.Round {
			take(opening{Opening: o, fc: fc, pts: all})
		}
	}
	return round, long
}

func (f *finder) evidence(fc *face, pts [][2]float64, rim bool) hole.Evidence {
	ev := hole.Evidence{Pts: pts, Rim: rim, Drawn: f.grain.drawn(), Cover: &fc.cover, Spacing: f.grain.spacing, Noise: f.grain.noise}
	if rim {
		ev.Noise = f.grain.rim()
	}
	if ev.Drawn {
		ev.Spacing = fc.cover.Cell
	}
	return ev
}

// rimOf measures a round opening by its rim.
func (f *finder) rimOf(o *opening) (candidate, bool) {
	g := f.grain
	near := max(1.2*g.spacing, 3*g.noise)
	if g.drawn() {
		near = 0.05 * o.B
	}
	var pts [][2]float64
	for _, p := range o.pts {
		if math.Abs(o.Off(p)) <= near {
			pts = append(pts, p)
		}
	}
	d, err := robustDisc(pts, &disc{Outline: hole.Circle(o.X, o.Y, o.B)}, g.noise/4)
	if err != nil || d.used < rimPoints || math.Hypot(d.X-o.X, d.Y-o.Y)+math.Abs(d.B-o.B) > 0.2*o.B+g.spacing {
		return candidate{}, false
	}
	c := candidate{face: o.fc, x: d.X, y: d.Y, r: d.B, from: Rim, series: newSeries(pts, hole.Round, d), scale: d.scale,
		lo: -g.sink(), points: d.used}
	return c, c.series.arc() >= leastRimArc
}

// window is the part of a circle within half an angle, rad, either side of a direction; all
// of it where half is 0.
type window struct{ at, half float64 }

func (w window) has(dx, dy float64) bool {
	return w.half == 0 || math.Abs(geom.WrapHalf(math.Atan2(dy, dx)-w.at)) <= w.half
}

// roundWall reports whether the wall candidate is that of a hole, not the end of a slot, a
// rounded corner or a notch. A hole may have a keyway, or the flat roof of a printed one. A
// wall of another shape is returned as an opening, if that has a name.
func (f *finder) roundWall(c *candidate) (*opening, bool) {
	start := hole.Circle(c.x, c.y, c.r)
	w := f.wallsAbout(c.face, start, 0.4*c.r+2*f.grain.spacing, c.lo, c.hi)
	pts, height := w.between(c.lo, c.hi, f.grain)
	o, ok := f.evidence(c.face, pts, false).Explain(start)
	if !ok {
		return nil, c.series.arc() >= mostlyRound && c.around == 3 // else a notch
	}
	if o.Kind == hole.Round {
		return nil, math.Hypot(o.X-c.x, o.Y-c.y)+math.Abs(o.B-c.r) < 0.2*c.r
	}
	return &opening{Opening: o, fc: c.face, pts: pts, height: height}, false
}

// wallsAbout returns the points of walls, whatever they are of, about an outline from lo
// to hi. Walls that face away from its middle, as the part's edge beside a hole, are left out.
// A drawing's walls are where a plane half way between lo and hi cuts its triangles.
func (f *finder) wallsAbout(fc *face, o hole.Outline, band, lo, hi float64) wallPoints {
	var w wallPoints
	far := math.Hypot(o.A, o.B) + band
	if f.grain.drawn() {
		e := hole.EdgeOf(f.scan, nil, fc.flat.xy, fc.flat.height, -(lo+hi)/2, o.B/20)
		for _, p := range e.Pts {
			if math.Hypot(p[0]-o.X, p[1]-o.Y) < far {
				w.xy, w.height = append(w.xy, p), append(w.height, (lo+hi)/2)
			}
		}
		return w
	}
	for _, i := range f.nearWall(fc, o.X, o.Y, 0, far, lo, hi) {
		at, n := fc.flat.xy(f.scan.Point(int(i))), f.scan.Normal(int(i))
		dx, dy := at[0]-o.X, at[1]-o.Y
		away := n.Dot(fc.flat.e1)*dx+n.Dot(fc.flat.e2)*dy > math.Hypot(dx, dy)/2
		if math.Abs(o.Off(at)) <= band && !away {
			w.add(f.scan, fc, int(i), f.grain)
		}
	}
	return w
}

// longByWall explains the walls at a place where a slot or a rectangle may be.
func (f *finder) longByWall(fc *face, start hole.Outline) (*opening, bool) {
	g := f.grain
	band := 3*fc.cover.Cell + 2*g.spacing + 3*g.noise + 0.2*start.B
	w := f.wallsAbout(fc, start, band, -f.size, 2*g.noise)
	if len(w.height) < 4*rimPoints {
		return nil, false
	}
	sorted := slices.Sorted(slices.Values(w.height))
	lo, hi := sorted[len(sorted)/50], sorted[len(sorted)-1-len(sorted)/50]
	if hi < -max(min(6*g.spacing, 1.5*start.B), 10*g.noise, 0.3*start.B) || hi-lo < 4*g.spacing {
		return nil, false // not of this face, or too little of it
	}
	if fc.around(start.X, start.Y, start.A+band, start.A+2*band+g.end()) < leastAround {
		return nil, false // the wall goes past the face
	}
	pts, height := w.between(lo, hi, g)
	o, ok := f.evidence(fc, pts, false).Explain(start)
	return &opening{Opening: o, fc: fc, pts: pts, height: height}, ok && o.Kind != hole.Round
}
