package bolt

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/fit"
	"spotface/fit/segment"
)

// A hole may open in a counterbore or a spot face, or pass two sheets: faces that look one
// way then show it more than once, about one axis. It is one hole, as wide as its
// narrowest part, on the topmost face.

// oneAxis reports whether c lies about the axis of o.
func (c *candidate) oneAxis(o *candidate) bool {
	if math.Abs(c.face.flat.n.Dot(o.face.flat.n)) < math.Cos(sameWay) {
		return false
	}
	p := meet(o.face.flat.at([2]float64{o.x, o.y}), o.face.flat.n, c.face.flat)
	at := c.face.flat.xy(p)
	return math.Hypot(at[0]-c.x, at[1]-c.y) < offAxis*min(c.r, o.r)
}

// under reports whether the wall of c begins where that of o, wider and on the same face,
// ends: its counterbore, whose floor is too narrow to be a face.
func (c *candidate) under(o *candidate) bool {
	return c.face == o.face && c.from == Wall && o.from == Wall && o.r > wider*c.r && c.hi < o.lo && c.oneAxis(o)
}

// stack makes one of the holes that faces looking one way show about one axis.
func (f *finder) stack(holes []*candidate) []*candidate {
	var out []*candidate
	done := map[*candidate]bool{}
	order := slices.Clone(holes)
	slices.SortStableFunc(order, func(p, q *candidate) int { return cmp.Compare(p.r, q.r) })
	for _, c := range order {
		if done[c] {
			continue
		}
		n := c.face.flat.n
		level := func(o *candidate) float64 { return o.face.flat.at([2]float64{o.x, o.y}).Dot(n) }
		var all []*candidate
		for _, o := range order {
			if !done[o] && o.face.flat.n.Dot(n) > 0 && c.oneAxis(o) {
				done[o] = true
				all = append(all, o)
			}
		}
		slices.SortStableFunc(all, func(p, q *candidate) int { return cmp.Compare(level(q), level(p)) })
		// The narrowest; of equals the topmost.
		narrow := slices.IndexFunc(all, func(o *candidate) bool { return o.r < wider*c.r })
		h, top := all[narrow], all[0]
		for _, o := range all { // of several the narrowest that is wider
			if h.under(o) && (h.counterbore == nil || 2*o.r < h.counterbore.Diameter) {
				h.counterbore = &Counterbore{Diameter: 2 * o.r, Depth: -(o.lo + h.hi) / 2}
			}
		}
		if h != top {
			// The widest above it is its counterbore, if it goes down to its face.
			wide := slices.MaxFunc(all[:narrow], func(p, q *candidate) int { return cmp.Compare(p.r, q.r) })
			if d := level(wide) - level(h); wide.r > wider*h.r && d > f.grain.end()/2 {
				h.counterbore = &Counterbore{Diameter: 2 * wide.r, Depth: d}
			}
			h.moveTo(top.face)
		}
		out = append(out, h)
	}
	return out
}

// alsoSeen takes over what is known of the same hole as another face shows it that looks the
// other way.
func (c *candidate) alsoSeen(o *candidate) {
	c.through = c.through || c.depth == 0
	if c.counterbore == nil {
		c.counterbore = o.counterbore
	}
	if c.countersink == nil {
		c.countersink = o.countersink
	}
}

// moveTo lays the candidate on another face that looks the same way: there its axis meets
// it.
func (c *candidate) moveTo(fc *face) {
	from, to := c.face.flat, fc.flat
	p := meet(from.at([2]float64{c.x, c.y}), from.n, to)
	at := to.xy(p)
	shift := to.height(from.at([2]float64{c.x, c.y}))
	c.face, c.x, c.y, c.lo, c.hi = fc, at[0], at[1], c.lo+shift, c.hi+shift
	// The axes of both faces' sheets differ by a turn.
	t, was := to.turn(from.n), c.cov
	along := func(x, y float64) [2]float64 {
		return [2]float64{t[0][0]*x + t[0][1]*y, t[1][0]*x + t[1][1]*y}
	}
	xy := rotated(t, [2][2]float64{{was[0][0], was[0][1]}, {was[1][0], was[1][1]}}, t)
	r := along(was[0][2], was[1][2])
	c.cov = [3][3]float64{{xy[0][0], xy[0][1], r[0]}, {xy[1][0], xy[1][1], r[1]}, {r[0], r[1], was[2][2]}}
	c.follow = along(c.follow[0], c.follow[1])
}

// deep looks at how a hole begins and ends: whether it is countersunk, goes through, or
// has a floor.
func (f *finder) deep(c *candidate) {
	for i := range f.cones {
		if s := f.sinkOf(c, &f.cones[i]); s != nil {
			c.countersink = s
		}
	}
	lo := c.lo
	if c.wall == "" {
		lo = -f.size
	}
	if depth, ok := f.floor(c, lo); ok {
		c.depth = depth
		return
	}
	for _, b := range f.faces {
		if b.flat.n.Dot(c.face.flat.n) > -math.Cos(sameWay) {
			continue
		}
		p := meet(c.face.flat.at([2]float64{c.x, c.y}), c.face.flat.n, b.flat)
		h, at := c.face.flat.height(p), b.flat.xy(p)
		if h < 0 && math.Abs(h-c.lo) < 2*f.grain.end()+0.5*c.r && !b.cover.Covered(at[0], at[1]) &&
			b.around(at[0], at[1], 0.9*c.r, 2*c.r+4*f.grain.spacing) > 0.5 {
			c.through = true
		}
	}
}

// sinkOf returns the countersink that a cone is of a hole, or nil.
func (f *finder) sinkOf(c *candidate, k *segment.Cone) *Countersink {
	fl := c.face.flat
	half := math.Abs(k.HalfAngle.Radians())
	at := fl.xy(meet(k.Apex, k.Axis, fl))
	low := -fl.height(k.Apex)
	wide := 2 * low * math.Tan(half)
	if !k.Internal || k.Axis.Dot(fl.n) < math.Cos(sameWay) || math.Hypot(at[0]-c.x, at[1]-c.y) > offAxis*c.r ||
		half < narrowSink || half > wideSink || wide < 2*wider*c.r || low > 4*c.r {
		return nil
	}
	return &Countersink{Diameter: wide, Angle: 2 * s1.Angle(half)}
}

// floor returns how far below its face the floor of a hole lies, at the full diameter
// where it is pointed: of a scan by the points that look up within it, of a drawing by the
// plane that ends at its wall. What reaches beyond the hole is what it stands on.
func (f *finder) floor(c *candidate, lo float64) (depth float64, ok bool) {
	fl := c.face.flat
	known := map[int32]bool{}
	if f.grain.drawn() {
		for id, u := range f.seg.Surfaces {
			p, flat := u.Fit.(fit.PlaneFit)
			if !flat || p.Normal.Dot(fl.n) < math.Cos(sameWay) || fl.height(p.Point) > -f.grain.sink() ||
				fl.height(p.Point) < lo-f.grain.end() || f.outside(c, int32(id), known) {
				continue
			}
			if slices.ContainsFunc(u.Points, func(i int32) bool {
				at := fl.xy(f.scan.Point(int(i)))
				return math.Hypot(at[0]-c.x, at[1]-c.y) < wider*c.r
			}) {
				return -fl.height(p.Point), true
			}
		}
		return 0, false
	}
	var rho, h []float64
	for _, i := range f.near(c.face, c.x, c.y, 0, floorWide*c.r, lo-c.r, c.hi) {
		q := f.scan.Point(int(i))
		at, high := fl.xy(q), fl.height(q)
		d := math.Hypot(at[0]-c.x, at[1]-c.y)
		nv := f.scan.Normal(int(i))
		if high > -2*f.grain.end() || nv.Norm2() > 0 && nv.Dot(fl.n) < 0.5 {
			continue
		}
		if int(i) < len(f.seg.PointSurface) && f.outside(c, f.seg.PointSurface[i], known) {
			return 0, false
		}
		rho, h = append(rho, d), append(h, high)
	}
	area := math.Pi * floorWide * c.r * floorWide * c.r
	if n := float64(len(h)); n < fewestFloor || n < floorShare*area/(f.grain.spacing*f.grain.spacing) {
		return 0, false
	}
	mid := median(h)
	// Along the radius: a drill's point falls toward the axis.
	var sx, sy, sxx, sxy, n float64
	for k := range h {
		if math.Abs(h[k]-mid) < 0.5*c.r {
			sx, sy, sxx, sxy, n = sx+rho[k], sy+h[k], sxx+rho[k]*rho[k], sxy+rho[k]*h[k], n+1
		}
	}
	slope := (sxy - sx*sy/n) / (sxx - sx*sx/n)
	if slope > pointed {
		return -(sy/n + slope*(c.r-sx/n)), true
	}
	return -mid, true
}

// outside reports whether much of a surface lies in no hole: then it is what the part
// stands on, seen through the hole. (Floors of equal depth make one plane.)
func (f *finder) outside(c *candidate, id int32, known map[int32]bool) bool {
	if id < 0 {
		return false
	}
	out, ok := known[id]
	if !ok {
		pts, n, free := f.seg.Surfaces[id].Points, 0, 0
		for k := 0; k < len(pts); k += 1 + len(pts)/200 {
			n++
			q := f.scan.Point(int(pts[k]))
			if !slices.ContainsFunc(f.holes, func(o *candidate) bool {
				at := o.face.flat.xy(q)
				return o.face.flat.n.Dot(c.face.flat.n) > math.Cos(sameWay) && math.Hypot(at[0]-o.x, at[1]-o.y) < wider*o.r
			}) {
				free++
			}
		}
		out = 5*free > n
		known[id] = out
	}
	return out
}
