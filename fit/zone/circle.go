package zone

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/mesh/geom"
)

// Circle2D is a circle in a plane by a criterion.
type Circle2D struct {
	X, Y, Radius float64
	Zone
}

// Circle fits a circle to points in a plane, mm, by a criterion. Radius is the mean
// of Inner and Outer under Minimum, else the circle's. Needs 3 points (2 for
// Circumscribed).
//
// Circumscribed is exact. Minimum and Inscribed are local optima next to the
// least-squares circle and the circumscribed centre, the best of them; for points
// that go round a circle with little form error there is one. Inscribed keeps its
// centre among the points; of 40 points or fewer it is the best of all circles
// through three.
func Circle(xy [][2]float64, by Criterion) (Circle2D, error) {
	need := 3
	if by == Circumscribed {
		need = 2
	}
	if len(xy) < need {
		return Circle2D{}, &fit.TooFewError{Feature: "circle", Got: len(xy), Need: need}
	}
	pts := make([]r3.Vector, len(xy))
	for i, p := range xy {
		pts[i] = r3.Vector{X: p[0], Y: p[1]}
		if !geom.Finite(pts[i]) {
			return Circle2D{}, &fit.InputError{Feature: "circle", Index: i, Point: pts[i], Reason: "not a finite number"}
		}
	}
	c := scaled(pts)
	if c.scale == 0 {
		return Circle2D{}, noZone("circle", Minimum)
	}
	around, active := c.circumscribed()
	if by == Circumscribed {
		return c.circle(around, by, Zone{Active: active}), nil
	}
	if by == Inscribed && len(xy) <= fewPoints {
		p, active, ok := c.emptiest()
		if !ok {
			return Circle2D{}, noZone("circle", by)
		}
		return c.circle(p, by, Zone{Active: active}), nil
	}
	starts := []r3.Vector{around}
	f, err := fit.Circle2DTo(xy, fit.Options{})
	var flat *fit.FlatError
	if err == nil || errors.Is(err, fit.ErrNoConvergence) || errors.As(err, &flat) && flat.Curvature > 0 {
		starts = append([]r3.Vector{c.inside(r3.Vector{X: f.X, Y: f.Y})}, starts...)
	} else if by == Minimum {
		return Circle2D{}, err
	}
	best := math.Inf(1)
	var out Circle2D
	for _, s := range starts {
		// A cylinder across the plane, of which place and radius may change.
		z := c.state(fit.Cylinder{Point: s, Axis: r3.Vector{Z: 1}, Radius: c.outermost(s)}, by, []int{0, 1, 4})
		got, ok := z.solve()
		if !ok {
			continue
		}
		p := z.s.(fit.Cylinder).Point
		q := c.circle(p, by, got)
		goal := q.Width
		if by == Inscribed {
			goal = -q.Radius
			if !c.among(p) || got.DualityGap > maxInscribedGap*q.Radius {
				continue
			}
		}
		if goal < best {
			best, out = goal, q
		}
	}
	if math.IsInf(best, 1) {
		return out, noZone("circle", by)
	}
	return out, nil
}

// circle makes the result for a centre.
func (c *cloud) circle(p r3.Vector, by Criterion, z Zone) Circle2D {
	lo, hi := math.Inf(1), 0.0
	for _, q := range c.p {
		d := q.Distance(p)
		lo, hi = min(lo, d), max(hi, d)
	}
	ctr := c.outside(p)
	z.Inner, z.Outer = lo*c.scale, hi*c.scale
	z.Width = z.Outer - z.Inner
	out := Circle2D{X: ctr.X, Y: ctr.Y, Radius: (z.Inner + z.Outer) / 2, Zone: z}
	switch by {
	case Circumscribed:
		out.Radius = z.Outer
	case Inscribed:
		out.Radius = z.Inner
	}
	return out
}

func (c *cloud) outermost(p r3.Vector) (r float64) {
	for _, q := range c.p {
		r = max(r, q.Distance(p))
	}
	return r
}

// circumscribed returns the centre of the least circle that holds all points of the
// plane z = 0, and the two or three points that it rests on: Welzl (1991), the inner
// calls as loops, over the corners of the convex hull.
func (c *cloud) circumscribed() (ctr r3.Vector, active []int) {
	order := c.hull()
	ctr, active = c.p[order[0]], order[:1]
	r := 0.0
	through := func(p r3.Vector, at ...int) {
		ctr, active, r = p, at, 0
		for _, i := range at {
			r = max(r, c.p[i].Distance(p))
		}
	}
	in := func(i int) bool { return c.p[i].Distance(ctr) <= r*(1+rounding) }
	for a, i := range order {
		if in(i) {
			continue
		}
		through(c.p[i], i)
		for b, j := range order[:a] {
			if in(j) {
				continue
			}
			through(c.p[i].Add(c.p[j]).Mul(0.5), i, j)
			for _, k := range order[:b] {
				if in(k) {
					continue
				}
				if p, _, ok := geom.Circle(c.p[i], c.p[j], c.p[k]); ok {
					through(p, i, j, k)
				}
			}
		}
	}
	slices.Sort(active)
	return ctr, active
}

// hull returns the points of the plane z = 0 that are corners of their convex hull,
// in order: Andrew's chain (Inf. Process. Lett. 9 (1979) 216–219).
func (c *cloud) hull() []int {
	order := make([]int, len(c.p))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(cmp.Compare(c.p[i].X, c.p[j].X), cmp.Compare(c.p[i].Y, c.p[j].Y), i-j)
	})
	if len(order) < 3 {
		return order
	}
	var out []int
	half := func(seq []int) {
		base := len(out)
		for _, i := range seq {
			for len(out) >= base+2 && c.side(out[len(out)-2], out[len(out)-1], c.p[i]) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, i)
		}
		out = out[:len(out)-1]
	}
	half(order)
	slices.Reverse(order)
	half(order)
	return out
}

// side is above zero where q is left of the line from point i to point j.
func (c *cloud) side(i, j int, q r3.Vector) float64 {
	a, b := c.p[j].Sub(c.p[i]), q.Sub(c.p[i])
	return a.X*b.Y - a.Y*b.X
}

// among reports whether p is in the points' convex hull.
func (c *cloud) among(p r3.Vector) bool {
	h := c.hull()
	for k, i := range h {
		if c.side(i, h[(k+1)%len(h)], p) < -hullRounding {
			return false
		}
	}
	return len(h) > 2
}

// emptiest returns the centre, in the convex hull, of the largest circle that no
// point is inside: of those that three points hold, or, where there is none, those
// through two with the centre on the hull's edge, which would grow if the centre
// might leave.
func (c *cloud) emptiest() (ctr r3.Vector, active []int, ok bool) {
	n := len(c.p)
	h := c.hull()
	if len(h) < 3 {
		return ctr, nil, false
	}
	best := 0.0
	attempt := func(p r3.Vector, at ...int) {
		r := c.p[at[0]].Distance(p)
		if r <= best {
			return
		}
		for _, q := range c.p {
			if q.Distance(p) < r*(1-circleRounding) {
				return
			}
		}
		if c.among(p) {
			best, ctr, active, ok = r, p, at, true
		}
	}
	for i := range n {
		for j := range i {
			for k := range j {
				if p, _, good := geom.Circle(c.p[i], c.p[j], c.p[k]); good {
					attempt(p, k, j, i)
				}
			}
		}
	}
	if ok {
		return ctr, active, ok
	}
	for i := range n {
		for j := range i {
			// The bisector of i and j across the hull's edges.
			mid, d := c.p[i].Add(c.p[j]).Mul(0.5), c.p[j].Sub(c.p[i])
			for e := range h {
				a := c.p[h[e]]
				edge := c.p[h[(e+1)%len(h)]].Sub(a)
				den := edge.Dot(d)
				if den == 0 {
					continue
				}
				if t := mid.Sub(a).Dot(d) / den; t >= 0 && t <= 1 {
					attempt(a.Add(edge.Mul(t)), j, i)
				}
			}
		}
	}
	return ctr, active, ok
}
