package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// Circle2Zone is a circle in a plane by a criterion. Inner and Outer are the
// radii about (X, Y) that no point is inside and outside of.
type Circle2Zone struct {
	X, Y, Radius float64
	Inner, Outer float64
	Zone
}

// ZoneCircle2 fits a circle to points in a plane, mm, by a criterion. Radius is
// the mean of Inner and Outer under MinimumZone, else the circle's. Needs 3
// points (2 for Circumscribed).
//
// Circumscribed is exact: Welzl (Lect. Notes Comput. Sci. 555 (1991) 359–370).
// MinimumZone and Inscribed are local optima next to the least-squares circle
// and the circumscribed centre, the best of them; for points that go round a
// circle with little form error there is one. Inscribed keeps its centre among
// the points; of 40 points or fewer it is the best of all circles through three.
func ZoneCircle2(xy [][2]float64, by Criterion) (Circle2Zone, error) {
	pts := make([]r3.Vector, len(xy))
	for i, p := range xy {
		pts[i] = r3.Vector{X: p[0], Y: p[1]}
	}
	need := 3
	if by == Circumscribed {
		need = 2
	}
	c, err := columns("circle", pts, Options{}, need)
	if err != nil {
		return Circle2Zone{}, err
	}
	cx, cy, support := circumscribed(c)
	if by == Circumscribed {
		return c.circleZone(cx, cy, by, Zone{Support: support}), nil
	}
	if by == Inscribed && len(xy) <= 40 {
		x, y, support, ok := c.emptiest()
		if !ok {
			return Circle2Zone{}, degenerate("circle", "all points are on one line; none is empty among them")
		}
		return c.circleZone(x, y, by, Zone{Support: support}), nil
	}
	var starts []arc
	if a, s, err := circleFlat("circle", c, Options{}); s != nil && a.k != 0 {
		starts = append(starts, a.outward())
	} else if by == MinimumZone {
		return Circle2Zone{}, err
	}
	if r := c.outermost(cx, cy); r > 0 {
		starts = append(starts, arcAt(r3.Vector{X: cx, Y: cy}, r3.Vector{Z: 1}, r))
	}
	best := math.Inf(1)
	var out Circle2Zone
	for _, a := range starts {
		m := &circle2Model{cur: a}
		z, ok := zone(m, c, by)
		if !ok || m.cur.k == 0 {
			continue
		}
		ctr := m.cur.centre()
		q := c.circleZone(ctr.X, ctr.Y, by, z)
		goal := q.Width
		if by == Inscribed {
			goal = -q.Radius
			if !c.among(ctr.X, ctr.Y) || z.Gap > 1e-9*q.Radius {
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

// noZone says why there is no optimum.
func noZone(feature string, by Criterion) error {
	if by == Inscribed {
		return degenerate(feature, "the points leave a side open, and the largest inscribed one grows out of it: scan more than half of the turn")
	}
	return degenerate(feature, "no optimum near the points")
}

// circleZone makes the result for a centre.
func (c *cloud) circleZone(x, y float64, by Criterion, z Zone) Circle2Zone {
	lo, hi := math.Inf(1), 0.0
	for i := range c.x {
		d := math.Hypot(c.x[i]-x, c.y[i]-y)
		lo, hi = min(lo, d), max(hi, d)
	}
	ctr := c.back(r3.Vector{X: x, Y: y})
	out := Circle2Zone{X: ctr.X, Y: ctr.Y, Inner: lo * c.scale, Outer: hi * c.scale, Zone: z}
	out.Width = out.Outer - out.Inner
	switch by {
	case Circumscribed:
		out.Radius = out.Outer
	case Inscribed:
		out.Radius = out.Inner
	default:
		out.Radius = (out.Inner + out.Outer) / 2
	}
	return out
}

func (c *cloud) outermost(x, y float64) (r float64) {
	for i := range c.x {
		r = max(r, math.Hypot(c.x[i]-x, c.y[i]-y))
	}
	return r
}

// PlaneZone is the flatness of points: two parallel planes Width apart, Plane
// half way between them.
type PlaneZone struct {
	Plane
	Zone
}

// ZonePlane fits a plane to pts, mm, so that the largest distance is least:
// its Width is the flatness. Needs 3 points. The optimum is the one next to the
// least-squares plane, and next to the other principal planes where the points
// are no thinner than a fifth of their breadth.
func ZonePlane(pts []r3.Vector) (PlaneZone, error) {
	c, err := columns("plane", pts, Options{}, 3)
	if err != nil {
		return PlaneZone{}, err
	}
	mean, dir, val := principal(c)
	if g := c.grain(); val[1] <= 64*g*g {
		return PlaneZone{}, degenerate("plane", "all points are on one line; a plane needs points beside it")
	}
	starts := dir[:1]
	if val[0] > 0.04*val[1] {
		starts = append([]r3.Vector(nil), dir[:]...)
		for i := range 3 {
			a, b := dir[i], dir[(i+1)%3]
			starts = append(starts, unit(a.Add(b)), unit(a.Sub(b)))
		}
	}
	var out PlaneZone
	best := math.Inf(1)
	for _, n := range starts {
		m := &tiltPlane{}
		m.cur = planeModel{at: mean, n: n}
		m.cur.u, m.cur.v = Frame(n)
		z, ok := zone(m, c, MinimumZone)
		if !ok || z.Width >= best {
			continue
		}
		best = z.Width
		normal := orient(m.cur.n)
		at := mean.Sub(normal.Mul(mean.Sub(m.cur.at).Dot(normal)))
		out = PlaneZone{Plane{c.back(at), normal}, z}
	}
	if math.IsInf(best, 1) {
		return out, noConvergence("plane", 0)
	}
	return out, nil
}

// CylinderZone is a cylinder by a criterion. Inner and Outer are the radii
// about the axis that no point is inside and outside of.
type CylinderZone struct {
	Cylinder
	Inner, Outer float64
	Zone
}

// ZoneCylinder fits a cylinder to pts, mm, by a criterion: Inscribed is the
// largest pin that a hole takes, as far as its points tell. The optimum is the
// one next to the least-squares cylinder, converged to Zone.Gap. Needs 5 points;
// errors as CylinderTo.
func ZoneCylinder(pts []r3.Vector, by Criterion) (CylinderZone, error) {
	f, err := CylinderTo(pts, Options{})
	if err != nil {
		return CylinderZone{}, err
	}
	return ZoneCylinderFrom(f.Cylinder, pts, by)
}

// ZoneCylinderFrom is ZoneCylinder from a start at hand.
func ZoneCylinderFrom(start Cylinder, pts []r3.Vector, by Criterion) (CylinderZone, error) {
	if !(start.Radius > 0) || math.IsInf(start.Radius, 0) || !finite(start.Point) || !finite(start.Axis) || start.Axis.Norm() == 0 {
		return CylinderZone{}, &InputError{"cylinder", -1, start.Point, "the start needs a point, an axis and a radius above zero"}
	}
	c, err := columns("cylinder", pts, Options{}, 5)
	if err != nil {
		return CylinderZone{}, err
	}
	m := &cylinderModel{cur: arcAt(c.in(start.Point), unit(start.Axis), start.Radius/c.scale)}
	z, ok := zone(m, c, by)
	if !ok || m.cur.k == 0 {
		return CylinderZone{}, noZone("cylinder", by)
	}
	a := m.cur.level()
	out := CylinderZone{Cylinder: Cylinder{c.back(a.centre()), a.w, c.scale / math.Abs(a.k)}, Zone: z}
	lo, hi := math.Inf(1), 0.0
	ctr := a.centre()
	e1, e2 := Frame(a.w)
	for i := range c.x {
		d := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}.Sub(ctr)
		r := math.Hypot(d.Dot(e1), d.Dot(e2))
		lo, hi = min(lo, r), max(hi, r)
	}
	out.Inner, out.Outer = lo*c.scale, hi*c.scale
	return out, nil
}

// LineZone is the straightness of points in space: a cylinder of diameter Width
// about the line holds them all.
type LineZone struct {
	Line
	Zone
}

// ZoneLine fits a line in space to pts, mm, so that the largest distance is
// least: the thinnest cylinder that holds them, next to the least-squares line.
// Needs 5 points that are not on one line.
func ZoneLine(pts []r3.Vector) (LineZone, error) {
	f, err := LineTo(pts, Options{})
	if err != nil {
		return LineZone{}, err
	}
	if f.Residuals.Max == 0 {
		return LineZone{Line: f.Line}, nil
	}
	s, err := ZoneCylinderFrom(Cylinder{f.Point, f.Direction, f.Residuals.Max}, pts, Circumscribed)
	if err != nil {
		return LineZone{}, err
	}
	out := LineZone{Line{s.Point, s.Axis}, s.Zone}
	out.Width = 2 * s.Radius
	return out, nil
}

// SphereZone is a sphere by a criterion.
type SphereZone struct {
	Sphere
	Inner, Outer float64
	Zone
}

// ZoneSphere fits a sphere to pts, mm, by a criterion, next to the least-squares
// sphere. Needs 4 points; errors as SphereTo.
func ZoneSphere(pts []r3.Vector, by Criterion) (SphereZone, error) {
	f, err := SphereTo(pts, Options{})
	if err != nil {
		return SphereZone{}, err
	}
	c, err := columns("sphere", pts, Options{}, 4)
	if err != nil {
		return SphereZone{}, err
	}
	ctr := c.in(f.Centre)
	m := &sphereModel{}
	m.cur.k = c.scale / f.Radius
	m.cur.n = r3.Vector{Z: 1}
	if ctr.Norm()*m.cur.k > 1e-6 {
		m.cur.n = unit(ctr)
	}
	m.cur.at = ctr.Sub(m.cur.n.Mul(1 / m.cur.k))
	z, ok := zone(m, c, by)
	if !ok || m.cur.k == 0 {
		return SphereZone{}, noZone("sphere", by)
	}
	ctr = m.cur.centre()
	out := SphereZone{Sphere: Sphere{c.back(ctr), c.scale / math.Abs(m.cur.k)}, Zone: z}
	lo, hi := math.Inf(1), 0.0
	for i := range c.x {
		r := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}.Sub(ctr).Norm()
		lo, hi = min(lo, r), max(hi, r)
	}
	out.Inner, out.Outer = lo*c.scale, hi*c.scale
	return out, nil
}
