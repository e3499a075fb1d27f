package fit

import (
	"math"
	"slices"
)

// circumscribed returns the centre of the least circle that holds all points
// of the plane z = 0, and the two or three points that it stands on: Welzl
// (1991), the inner calls as loops, over the corners of the convex hull.
func circumscribed(c *cloud) (x, y float64, support []int) {
	order := c.hull()
	x, y, support = c.x[order[0]], c.y[order[0]], order[:1]
	r := 0.0
	in := func(i int) bool { return math.Hypot(c.x[i]-x, c.y[i]-y) <= r*(1+4e-16) }
	pair := func(i, j int) {
		support = []int{i, j}
		x, y = (c.x[i]+c.x[j])/2, (c.y[i]+c.y[j])/2
		r = max(math.Hypot(c.x[i]-x, c.y[i]-y), math.Hypot(c.x[j]-x, c.y[j]-y))
	}
	for a, i := range order {
		if in(i) {
			continue
		}
		x, y, r, support = c.x[i], c.y[i], 0, []int{i}
		for b, j := range order[:a] {
			if in(j) {
				continue
			}
			pair(i, j)
			for _, k := range order[:b] {
				if in(k) {
					continue
				}
				if px, py, ok := c.circumcentre(i, j, k); ok {
					x, y, support = px, py, []int{i, j, k}
					r = 0
					for _, s := range support {
						r = max(r, math.Hypot(c.x[s]-x, c.y[s]-y))
					}
				}
			}
		}
	}
	slices.Sort(support)
	return x, y, support
}

// circumcentre returns the centre of the circle through three points.
func (c *cloud) circumcentre(i, j, k int) (x, y float64, ok bool) {
	ax, ay := c.x[j]-c.x[i], c.y[j]-c.y[i]
	bx, by := c.x[k]-c.x[i], c.y[k]-c.y[i]
	d := 2 * (ax*by - ay*bx)
	aa, bb := ax*ax+ay*ay, bx*bx+by*by
	if math.Abs(d) <= 1e-15*(aa+bb) {
		return 0, 0, false
	}
	return c.x[i] + (by*aa-ay*bb)/d, c.y[i] + (ax*bb-bx*aa)/d, true
}

// hull returns the points of the plane z = 0 that are corners of their convex
// hull, in order: Andrew's chain (Inf. Process. Lett. 9 (1979) 216–219).
func (c *cloud) hull() []int {
	order := make([]int, len(c.x))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		switch {
		case c.x[i] != c.x[j]:
			if c.x[i] < c.x[j] {
				return -1
			}
			return 1
		case c.y[i] < c.y[j]:
			return -1
		case c.y[i] > c.y[j]:
			return 1
		}
		return i - j
	})
	if len(order) < 3 {
		return order
	}
	var out []int
	half := func(seq []int) {
		base := len(out)
		for _, i := range seq {
			for len(out) >= base+2 {
				a, b := out[len(out)-2], out[len(out)-1]
				if (c.x[b]-c.x[a])*(c.y[i]-c.y[a])-(c.y[b]-c.y[a])*(c.x[i]-c.x[a]) > 0 {
					break
				}
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

// among reports whether (x, y) is in the points' convex hull.
func (c *cloud) among(x, y float64) bool {
	h := c.hull()
	for k, i := range h {
		j := h[(k+1)%len(h)]
		if (c.x[j]-c.x[i])*(y-c.y[i])-(c.y[j]-c.y[i])*(x-c.x[i]) < -1e-14 {
			return false
		}
	}
	return len(h) > 2
}

// emptiest returns the centre, in the convex hull, of the largest circle that
// no point is inside: of those that three points hold, or, where there is none,
// those through two with the centre on the hull's edge, which would grow if the
// centre might leave.
func (c *cloud) emptiest() (x, y float64, support []int, ok bool) {
	n := len(c.x)
	h := c.hull()
	if len(h) < 3 {
		return 0, 0, nil, false
	}
	best := 0.0
	attempt := func(px, py float64, s ...int) {
		r := math.Hypot(c.x[s[0]]-px, c.y[s[0]]-py)
		if r <= best {
			return
		}
		for i := range n {
			if math.Hypot(c.x[i]-px, c.y[i]-py) < r*(1-1e-13) {
				return
			}
		}
		if c.among(px, py) {
			best, x, y, support, ok = r, px, py, s, true
		}
	}
	for i := range n {
		for j := range i {
			for k := range j {
				if px, py, good := c.circumcentre(i, j, k); good {
					attempt(px, py, k, j, i)
				}
			}
		}
	}
	if ok {
		return x, y, support, ok
	}
	for i := range n {
		for j := range i {
			// The bisector of i and j across the hull's edges.
			mx, my := (c.x[i]+c.x[j])/2, (c.y[i]+c.y[j])/2
			dx, dy := c.x[j]-c.x[i], c.y[j]-c.y[i]
			for e := range h {
				a, b := h[e], h[(e+1)%len(h)]
				ex, ey := c.x[b]-c.x[a], c.y[b]-c.y[a]
				den := ex*dx + ey*dy
				if den == 0 {
					continue
				}
				if t := ((mx-c.x[a])*dx + (my-c.y[a])*dy) / den; t >= 0 && t <= 1 {
					attempt(c.x[a]+t*ex, c.y[a]+t*ey, j, i)
				}
			}
		}
	}
	return x, y, support, ok
}
