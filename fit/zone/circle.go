package zone

import (
	"errors"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/mesh/geom"
)

// Circle fits a circle to points in the plane z = 0, mm, by a criterion. Radius is the
// mean of Inner and Outer under Minimum, else the circle's. Needs 3 points (2 for
// Circumscribed).
//
// Circumscribed has one optimum. Minimum and Inscribed are local optima next to the
// least-squares circle and the centroid, the best of them; for points that go round a
// circle with little form error there is one. Inscribed keeps its centre among the
// points; of 40 points or fewer it is the best of all circles through three.
func Circle(pts []r3.Vector, by Criterion) (fit.Circle, Zone, error) {
	least := 3
	if by == Circumscribed {
		least = 2
	}
	f, err := fit.Circle2DTo(pts, fit.Options{})
	_, bad := errors.AsType[*fit.InputError](err)
	if bad || len(pts) < least || by == Minimum && !fit.Usable(err) {
		return fit.Circle{}, Zone{}, err
	}
	c := scaled(pts)
	if c.scale == 0 {
		return fit.Circle{}, Zone{}, err
	}
	var starts []r3.Vector
	var at r3.Vector
	var zone Zone
	ok := false
	if by == Inscribed && len(pts) <= fewPoints {
		at, zone.Active, ok = c.emptiest()
	} else {
		if fit.Usable(err) {
			starts = append(starts, c.inside(f.Centre))
		}
		starts = append(starts, r3.Vector{}) // the centroid
	}
	best := math.Inf(1)
	for _, s := range starts {
		// A cylinder across the plane, of which place and radius may change.
		tube := fit.Cylinder{Point: s, Axis: r3.Vector{Z: 1}, Radius: c.outermost(s)}
		z := c.state(tube, by, []int{0, 1, 4})
		got, solved := z.solve()
		if !solved {
			continue
		}
		p := z.s.(fit.Cylinder).Point
		if by == Circumscribed {
			p = c.across(p, got.Active)
		}
		q, got := c.circle(p, by, got)
		if by == Inscribed && (!c.among(p) || got.DualityGap > maxInscribedGap*q.Radius) {
			continue
		}
		goal := [...]float64{Minimum: got.Width, Circumscribed: q.Radius, Inscribed: -q.Radius}[by]
		if goal < best {
			best, at, zone, ok = goal, p, got, true
		}
	}
	if !ok {
		return fit.Circle{}, Zone{}, noZone("circle", by)
	}
	out, zone := c.circle(at, by, zone)
	zone.measure(pts, func(q r3.Vector) float64 {
		return math.Hypot(q.X-out.Centre.X, q.Y-out.Centre.Y) - out.Radius
	})
	return out, zone, nil
}

// circle makes the result for a centre.
func (c *cloud) circle(p r3.Vector, by Criterion, z Zone) (fit.Circle, Zone) {
	lo, hi := math.Inf(1), 0.0
	for _, q := range c.p {
		d := q.Distance(p)
		lo, hi = min(lo, d), max(hi, d)
	}
	z.Inner, z.Outer = lo*c.scale, hi*c.scale
	z.Width = z.Outer - z.Inner
	r := [...]float64{Minimum: (z.Inner + z.Outer) / 2, Circumscribed: z.Outer, Inscribed: z.Inner}[by]
	return fit.Circle{Centre: c.outside(p), Normal: r3.Vector{Z: 1}, Radius: r}, z
}

// across returns the middle of two of the points at if a circle about it is no larger than
// that about p, else p: along a circle that two ends of a diameter hold, a step shows no gain
// before its square is beyond rounding.
func (c *cloud) across(p r3.Vector, at []int) r3.Vector {
	most := c.outermost(p) * (1 + circleRounding)
	for k, i := range at {
		for _, j := range at[:k] {
			if mid := c.p[i].Add(c.p[j]).Mul(0.5); c.outermost(mid) <= most {
				return mid
			}
		}
	}
	return p
}

func (c *cloud) outermost(p r3.Vector) (r float64) {
	for _, q := range c.p {
		r = max(r, q.Distance(p))
	}
	return r
}

// among reports whether p is in the points' convex hull: there are points about it in every
// half turn.
func (c *cloud) among(p r3.Vector) bool {
	var turns []float64
	for _, q := range c.p {
		turns = append(turns, math.Atan2(q.Y-p.Y, q.X-p.X))
	}
	slices.Sort(turns)
	turns = append(turns, turns[0]+2*math.Pi)
	for i, t := range turns[1:] {
		if t-turns[i] > math.Pi+hullRounding {
			return false
		}
	}
	return true
}

// emptiest returns the centre, in the convex hull, of the largest circle that no
// point is inside: of those that three points hold, or, where there is none, those
// through two with the centre on the hull's edge, which would grow if the centre
// might leave.
func (c *cloud) emptiest() (ctr r3.Vector, active []int, ok bool) {
	n, flat := len(c.p), true
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
					flat = false
					attempt(p, k, j, i)
				}
			}
		}
	}
	if ok || flat {
		return ctr, active, ok
	}
	for i := range n {
		for j := range i {
			// The bisector of i and j across lines between points, the hull's edges among them.
			mid, d := c.p[i].Add(c.p[j]).Mul(0.5), c.p[j].Sub(c.p[i])
			for b, q := range c.p {
				for _, a := range c.p[:b] {
					edge := q.Sub(a)
					if t := mid.Sub(a).Dot(d) / edge.Dot(d); t >= 0 && t <= 1 {
						attempt(a.Add(edge.Mul(t)), j, i)
					}
				}
			}
		}
	}
	return ctr, active, ok
}
