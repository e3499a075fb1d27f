// Package zone fits shapes to points by criteria other than least squares: the
// minimum zone, the smallest circumscribed and the largest inscribed shape.
//
// Lengths are millimetres; points are in any order and neither changed nor kept.
// Minimum zones are what standards call flatness, straightness, roundness and
// cylindricity (ISO 1101, ISO 12180, ISO 12181; from memory). What pin goes
// through a hole is its largest inscribed cylinder, what ring goes over a stud
// its smallest circumscribed one. All three rest on a few extreme points, so one
// outlier moves them: see package robust. They state no uncertainty and contain
// the scan's noise.
//
// Method: a linear program of all points in each step of a trust region (Madsen,
// J. Inst. Math. Appl. 16 (1975) 321–328), which converges quadratically where as
// many points hold the shape as it has freedom. Optima are those next to the
// least-squares shape.
package zone

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/mesh/geom"
)

// Criterion is what a shape is fitted by.
type Criterion int

const (
	// Minimum makes the largest distance from the surface least.
	Minimum Criterion = iota
	// Circumscribed makes the smallest round shape that holds all points.
	Circumscribed
	// Inscribed makes the largest round shape that no point is in.
	Inscribed
)

// Zone is how points fill a shape under a criterion.
type Zone struct {
	// Width is the largest less the smallest signed distance, mm: the form
	// error under Minimum.
	Width float64
	// Inner and Outer are the radii about a round shape's axis or centre that no
	// point is inside and outside of, mm; zero for other shapes.
	Inner, Outer float64
	// Active are the points that hold the shape, ascending.
	Active []int
	// DualityGap is the gain, mm, by which a small step could still better the
	// criterion to first order: zero at an optimum, but for rounding. It is the
	// gap between the linear program there and its dual, allowed a step of a
	// millionth of the points' spread.
	DualityGap float64
	RMS        float64 // root of the mean square distance, mm
	Iters      int
}

// To fits a surface of a kind to pts, mm. A plane or cone has a Minimum only. The
// optimum is the one next to the least-squares surface, and for a plane next to
// the other principal planes where the points are not thin. Needs as many points as
// the least-squares fit, whose errors it returns.
func To(kind fit.Kind, pts []r3.Vector, by Criterion) (fit.Shape, Zone, error) {
	if by != Minimum && kind != fit.KindCylinder && kind != fit.KindSphere {
		return nil, Zone{}, fmt.Errorf("fit %v: neither inscribed nor circumscribed is defined", kind)
	}
	f, err := fit.To(kind, pts, fit.Options{})
	if err == nil {
		return from(f.Surface(), pts, by)
	}
	if kind == fit.KindPlane && errors.Is(err, fit.ErrDegenerate) && len(pts) >= kind.Params() {
		// A cube has no least-squares plane, but a minimum zone.
		c := scaled(pts)
		if val, dir := c.principal(); val[1] > straight*val[2] {
			return from(fit.Plane{Point: c.centre, Normal: dir[0]}, pts, by)
		}
	}
	return nil, Zone{}, err
}

// from is To from a start at hand, whose point is in the middle of the points.
func from(start fit.Shape, pts []r3.Vector, by Criterion) (out fit.Shape, zone Zone, err error) {
	c := scaled(pts)
	starts := []fit.Shape{c.in(start)}
	if p, ok := starts[0].(fit.Plane); ok {
		starts = c.planes(p)
	}
	for _, s := range starts {
		z := c.state(s, by, nil)
		if got, ok := z.solve(); ok && (out == nil || got.Width < zone.Width) {
			out, zone = c.back(z.s), got
		}
	}
	if out == nil {
		return nil, zone, noZone(start.Kind().String(), by)
	}
	zone.measure(pts, out.Distance)
	return out, zone, nil
}

// measure fills RMS.
func (z *Zone) measure(pts []r3.Vector, distance func(r3.Vector) float64) {
	var sum float64
	for _, q := range pts {
		d := distance(q)
		sum += d * d
	}
	z.RMS = math.Sqrt(sum / float64(len(pts)))
}

// Line fits a line in space to pts, mm, so that the largest distance is least: the
// axis of the thinnest cylinder that contains them, of diameter Width, next to the
// least-squares line. Needs 5 points, or 2 that all lie on one line.
func Line(pts []r3.Vector) (fit.Line, Zone, error) {
	f, err := fit.LineTo(pts, fit.Options{})
	if err != nil || f.Residuals.Max == 0 {
		return f.Line, Zone{}, err
	}
	if need := fit.KindCylinder.Params(); len(pts) < need {
		return fit.Line{}, Zone{}, &fit.TooFewError{Feature: "line", Got: len(pts), Need: need}
	}
	start := fit.Cylinder{Point: f.Point, Axis: f.Direction, Radius: f.Residuals.Max}
	s, z, err := from(start, pts, Circumscribed)
	if err != nil {
		return fit.Line{}, Zone{}, err
	}
	c := s.(fit.Cylinder)
	out := fit.Line{Point: c.Point, Direction: c.Axis}
	z.Width = 2 * c.Radius
	z.measure(pts, out.Distance)
	return out, z, nil
}

// noZone says why there is no optimum.
func noZone(feature string, by Criterion) error {
	missing := "no optimum near the points"
	if by == Inscribed {
		missing = "the points leave a side open, and the largest inscribed one grows out of it: " +
			"scan more than half of the turn"
	}
	return fmt.Errorf("fit %s: %w: %s", feature, fit.ErrDegenerate, missing)
}

// cloud is points about their centroid, divided by a power of two.
type cloud struct {
	p      []r3.Vector
	centre r3.Vector
	scale  float64
}

func scaled(pts []r3.Vector) *cloud {
	c := &cloud{p: make([]r3.Vector, len(pts))}
	for _, q := range pts {
		c.centre = c.centre.Add(q.Sub(pts[0]).Mul(1 / float64(len(pts))))
	}
	c.centre = c.centre.Add(pts[0])
	var size float64
	for i, q := range pts {
		c.p[i] = q.Sub(c.centre)
		size = max(size, c.p[i].Norm())
	}
	_, e := math.Frexp(size)
	c.scale = math.Ldexp(1, e-1)
	for i := range c.p {
		c.p[i] = c.p[i].Mul(1 / c.scale)
	}
	return c
}

func (c *cloud) inside(p r3.Vector) r3.Vector { return p.Sub(c.centre).Mul(1 / c.scale) }

func (c *cloud) outside(p r3.Vector) r3.Vector { return p.Mul(c.scale).Add(c.centre) }

// in returns a shape in the points' scaled frame, back in the caller's.
func (c *cloud) in(s fit.Shape) fit.Shape { return mapped(s, c.inside, 1/c.scale) }

func (c *cloud) back(s fit.Shape) fit.Shape { return mapped(s, c.outside, c.scale) }

// mapped returns s with its point moved by f and its size by a factor.
func mapped(s fit.Shape, f func(r3.Vector) r3.Vector, factor float64) fit.Shape {
	switch s := s.(type) {
	case fit.Plane:
		return fit.Plane{Point: f(s.Point), Normal: geom.Unit(s.Normal)}
	case fit.Sphere:
		return fit.Sphere{Centre: f(s.Centre), Radius: s.Radius * factor}
	case fit.Cylinder:
		return fit.Cylinder{Point: f(s.Point), Axis: geom.Unit(s.Axis), Radius: s.Radius * factor}
	case fit.Cone:
		return fit.Cone{Apex: f(s.Apex), Axis: geom.Unit(s.Axis), HalfAngle: s.HalfAngle}
	}
	return s
}

// principal returns the points' mean squares along their principal directions.
func (c *cloud) principal() (val [3]float64, dir [3]r3.Vector) {
	var m geom.Moments
	for _, q := range c.p {
		m.Add(q)
	}
	return m.Cov().Eigen()
}

// planes are the starts of a plane: s, and where the points are thick the other
// principal planes and those half way between.
func (c *cloud) planes(s fit.Plane) []fit.Shape {
	val, dir := c.principal()
	out := []fit.Shape{s}
	if val[0] <= plump*val[1] {
		return out
	}
	for i, a := range dir {
		b := dir[(i+1)%3]
		for _, n := range [...]r3.Vector{a, geom.Unit(a.Add(b)), geom.Unit(a.Sub(b))} {
			out = append(out, fit.Plane{Normal: n})
		}
	}
	return out
}

// state is a shape under iteration.
type state struct {
	c    *cloud
	by   Criterion
	s    fit.Shape
	free []int // the shape's parameters that may change
	size int   // the one of them that is the radius; -1 for none
	goal float64
	f    []float64   // residuals
	j    [][]float64 // their derivatives, a column a parameter
}

// state makes one of a start. free are the parameters that may change; nil for all.
func (c *cloud) state(s fit.Shape, by Criterion, free []int) *state {
	z := &state{c: c, by: by, s: s, free: free, size: -1, f: make([]float64, len(c.p))}
	if free == nil {
		for k := range s.Kind().Params() {
			z.free = append(z.free, k)
		}
	}
	if k := s.Kind(); k == fit.KindSphere || k == fit.KindCylinder {
		z.size = len(z.free) - 1
	}
	for range z.free {
		z.j = append(z.j, make([]float64, len(c.p)))
	}
	return z
}

// moved returns the shape moved by a step of the free parameters.
func (z *state) moved(step []float64) fit.Shape {
	var all [6]float64
	for k, p := range z.free {
		all[p] = step[k]
	}
	return z.s.Moved(all[:z.s.Kind().Params()])
}

// grown returns s with its surface moved outward by e.
func grown(s fit.Shape, e float64) fit.Shape {
	step := make([]float64, s.Kind().Params())
	switch s := s.(type) {
	case fit.Plane:
		step[0] = e
	case fit.Cone:
		step[2] = -e / math.Sin(s.HalfAngle.Radians())
	default:
		step[len(step)-1] = e
	}
	return s.Moved(step)
}

func radius(s fit.Shape) float64 {
	switch s := s.(type) {
	case fit.Sphere:
		return s.Radius
	case fit.Cylinder:
		return s.Radius
	}
	return 0
}

// look returns the shape with its surface moved to where the criterion has it, and
// the goal there: half the width, or the radius with its sign.
func (z *state) look(s fit.Shape) (fit.Shape, float64) {
	lo, hi := z.extremes(s)
	switch z.by {
	case Circumscribed:
		s = grown(s, hi)
		return s, radius(s)
	case Inscribed:
		s = grown(s, lo)
		return s, -radius(s)
	}
	return grown(s, (lo+hi)/2), (hi - lo) / 2
}

func (z *state) extremes(s fit.Shape) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, q := range z.c.p {
		d := s.Distance(q)
		lo, hi = min(lo, d), max(hi, d)
	}
	return lo, hi
}

// accept makes s the state and fills residuals and derivatives.
func (z *state) accept(s fit.Shape, goal float64) {
	z.s, z.goal = s, goal
	var row [6]float64
	for i, q := range z.c.p {
		z.f[i] = s.Partials(q, row[:])
		for k, p := range z.free {
			z.j[k][i] = row[p]
		}
	}
}

// step solves the linear program about the state within a box of half size box, in
// units of residual. It returns the step, the gain that it promises of the
// goal, and the points that hold it.
func (z *state) step(box float64) (d []float64, promise float64, active []int, ok bool) {
	p := len(z.free)
	l := geom.LinearProgram{Cost: make([]float64, p, p+1),
		Basis: make([]geom.Constraint, p, p+1), MaxPivots: maxPivots}
	if z.by == Minimum {
		l.Cost = append(l.Cost, 1) // the half width
		l.Basis = append(l.Basis, geom.Constraint{ID: -1})
		l.Basis[p].A[p] = -1
	} else {
		l.Cost[z.size] = z.side(0)
	}
	bound := make([]float64, p)
	for k := range p {
		big := leastSlope
		for _, v := range z.j[k] {
			big = max(big, math.Abs(v))
		}
		bound[k] = box / big
		l.Basis[k] = geom.Constraint{B: bound[k], ID: -1}
		l.Basis[k].A[k] = 1
		if l.Cost[k] > 0 {
			l.Basis[k].A[k] = -1
		}
	}
	moved := make([]float64, len(z.f))
	y, ok := l.Solve(func(y []float64) (geom.Constraint, bool) {
		for k := range p {
			if math.Abs(y[k]) > bound[k]*(1+overBound) {
				r := geom.Constraint{B: bound[k], ID: -1}
				r.A[k] = math.Copysign(1, y[k])
				return r, true
			}
		}
		return z.worst(y, moved)
	})
	if !ok {
		return nil, 0, nil, false
	}
	if z.by == Minimum {
		promise = z.goal - y[p]
	} else {
		promise = -l.Cost[z.size] * y[z.size]
	}
	for _, r := range l.Basis {
		if r.ID >= 0 {
			active = append(active, r.ID)
		}
	}
	slices.Sort(active)
	return y[:p], promise, slices.Compact(active), true
}

// side is the sign of what the criterion bounds of the residual v.
func (z *state) side(v float64) float64 {
	switch z.by {
	case Circumscribed:
		return 1
	case Inscribed:
		return -1
	}
	return math.Copysign(1, v)
}

// worst returns the constraint of the point that violates the criterion most after
// the linear step y; moved is scratch for the residuals there.
func (z *state) worst(y, moved []float64) (geom.Constraint, bool) {
	p := len(z.free)
	copy(moved, z.f)
	for k, v := range y[:p] {
		if v != 0 {
			for i, j := range z.j[k] {
				moved[i] += v * j
			}
		}
	}
	half := 0.0
	if z.by == Minimum {
		half = y[p]
	}
	at, most := -1, rounding
	for i, v := range moved {
		if d := z.side(v)*v - half; d > most {
			most, at = d, i
		}
	}
	if at < 0 {
		return geom.Constraint{}, false
	}
	sign := z.side(moved[at])
	r := geom.Constraint{B: -sign * z.f[at], ID: at}
	for k := range p {
		r.A[k] = sign * z.j[k][at]
	}
	if z.by == Minimum {
		r.A[p] = -1
	}
	return r, true
}

// solve brings the state to the criterion's optimum near it. False where there is
// none: an inscribed shape that grows through a side that the points leave open.
func (z *state) solve() (out Zone, ok bool) {
	z.accept(z.look(z.s))
	if math.IsNaN(z.goal) {
		return Zone{}, false
	}
	box := startBox
	if z.by == Minimum {
		box = max(2*z.goal, gapBox)
	}
	first := math.Abs(z.goal)
	for refused := 0; out.Iters < maxSteps && box > leastBox && refused < maxRefused; {
		out.Iters++
		d, promise, _, ok := z.step(box)
		if !ok {
			box *= shrink
			refused++
			continue
		}
		if promise < rounding {
			break
		}
		s, goal := z.look(z.moved(d))
		if !(goal < z.goal) {
			box *= shrink
			refused++
			continue
		}
		refused = 0
		gain := (z.goal - goal) / promise
		z.accept(s, goal)
		if z.by == Inscribed && -goal > runaway*first {
			return out, false
		}
		switch {
		case gain < poor:
			box *= shrink
		case gain > good:
			box *= grow
		}
	}
	out.DualityGap = math.Inf(1)
	if _, promise, active, ok := z.step(gapBox); ok {
		out.DualityGap, out.Active = max(promise, 0)*z.c.scale, active
	}
	lo, hi := z.extremes(z.s)
	out.Width = (hi - lo) * z.c.scale
	if z.size >= 0 {
		out.Inner, out.Outer = (radius(z.s)+lo)*z.c.scale, (radius(z.s)+hi)*z.c.scale
	}
	return out, true
}
