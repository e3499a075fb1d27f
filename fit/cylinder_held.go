package fit

import (
	"math"

	"github.com/golang/geo/r3"
)

// CylinderAlong fits a cylinder whose axis direction is held, parallel to
// another axis or square to a face: a circle through
// the points seen along it. It needs 3 points that are not on one line as seen
// so. The tilts' covariance is zero, for they were not measured. Errors as
// Circle2To.
func CylinderAlong(axis r3.Vector, pts []r3.Vector, opt Options) (CylinderFit, error) {
	if !finite(axis) || axis.Norm() == 0 {
		return CylinderFit{}, &InputError{"cylinder", -1, axis, "the axis held needs a direction"}
	}
	w := unit(axis)
	c, err := columns("cylinder", pts, opt, 3)
	if err != nil {
		return CylinderFit{}, err
	}
	e1, e2 := Frame(w)
	seen := c.along(e1, e2, w)
	a, s, err := circleFlat("cylinder", seen, opt)
	if s == nil {
		return CylinderFit{}, err
	}
	m := &circle2Model{cur: a, holdR: opt.Radius > 0}
	sum, cov, cond, ok := finish(m, seen, s, 3)
	out := CylinderFit{Residuals: sum, Iters: s.iters}
	if !ok || cond > singular {
		return out, degenerate("cylinder", "fewer than three distinct points as seen along the axis")
	}
	if a.k == 0 {
		return out, &FlatError{"cylinder", 0, math.Sqrt(cov[2][2]) / c.scale}
	}
	if a.k < 0 {
		out.Residuals = sum.turnOver()
	}
	ctr := a.centre()
	out.Point = c.back(e1.Mul(ctr.X).Add(e2.Mul(ctr.Y)))
	out.Axis, out.Radius = w, c.scale/math.Abs(a.k)
	to := a.circleMap()
	full := propagate(&to, &cov, 3, 3)
	at := [3]int{0, 1, 4}
	for i := range 3 {
		for j := range 3 {
			out.Cov[at[i]][at[j]] = full[i][j] * c.scale * c.scale
		}
	}
	if opt.Radius > 0 {
		return out, err
	}
	if f := flat("cylinder", a.k, math.Sqrt(cov[2][2]), c.scale); f != nil {
		err = f
	}
	return out, err
}

// CylinderSquareTo fits a cylinder whose axis is held square to a direction:
// parallel to a face with that normal, or crossing a bore with that axis at
// right angles. It needs 4 points. The tilt toward the direction has zero
// covariance. Errors as CylinderTo.
func CylinderSquareTo(direction r3.Vector, pts []r3.Vector, opt Options) (CylinderFit, error) {
	if !finite(direction) || direction.Norm() == 0 {
		return CylinderFit{}, &InputError{"cylinder", -1, direction, "the direction held square needs a length"}
	}
	c, err := columns("cylinder", pts, opt, 4)
	if err != nil {
		return CylinderFit{}, err
	}
	m, iters, err := cylinderStart(c, unit(direction), opt)
	if err != nil {
		return CylinderFit{}, err
	}
	m.cur.w = orient(m.cur.w)
	m.cur.t = m.cur.w.Cross(m.cur.n)
	return cylinderEnd(m, c, opt, iters)
}

// CylinderOn fits a cylinder coaxial with a line: only its radius, which is the
// mean distance. All other covariances are zero.
func CylinderOn(axis Line, pts []r3.Vector, opt Options) (CylinderFit, error) {
	if !finite(axis.Point) || !finite(axis.Direction) || axis.Direction.Norm() == 0 {
		return CylinderFit{}, &InputError{"cylinder", -1, axis.Point, "the axis held needs a point and a direction"}
	}
	c, err := columns("cylinder", pts, opt, 1)
	if err != nil {
		return CylinderFit{}, err
	}
	w := unit(axis.Direction)
	at := c.in(axis.Point)
	e1, e2 := Frame(w)
	var sum, weight float64
	for i := range c.x {
		g := 1.0
		if c.sw != nil {
			g = c.sw[i] * c.sw[i]
		}
		d := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}.Sub(at)
		sum += g * math.Hypot(d.Dot(e1), d.Dot(e2))
		weight += g
	}
	r := sum / weight
	s := spread{min: math.Inf(1), max: math.Inf(-1)}
	for i := range c.x {
		g := 1.0
		if c.sw != nil {
			g = c.sw[i] * c.sw[i]
		}
		if g == 0 {
			continue
		}
		d := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}.Sub(at)
		v := math.Hypot(d.Dot(e1), d.Dot(e2)) - r
		s.n++
		s.min, s.max = min(s.min, v), max(s.max, v)
		s.ss += v * v
		s.wss += g * v * v
	}
	foot := at.Sub(w.Mul(at.Dot(w)))
	out := CylinderFit{Cylinder: Cylinder{Point: c.back(foot), Axis: w, Radius: r * c.scale}}
	out.Residuals = s.summary(1, c.scale)
	out.Cov[4][4] = out.Residuals.Sigma * out.Residuals.Sigma / weight
	return out, nil
}

// PlaneSquareTo fits a plane whose normal is held: parallel to another face, or
// square to an axis. Only its height is fitted, the mean; the tilts' covariance
// is zero.
func PlaneSquareTo(normal r3.Vector, pts []r3.Vector, opt Options) (PlaneFit, error) {
	if !finite(normal) || normal.Norm() == 0 {
		return PlaneFit{}, &InputError{"plane", -1, normal, "the normal held needs a length"}
	}
	c, err := columns("plane", pts, opt, 1)
	if err != nil {
		return PlaneFit{}, err
	}
	n := unit(normal)
	mean, _ := scatterAlong(c, r3.Vector{}, &[3]r3.Vector{{X: 1}, {Y: 1}, {Z: 1}})
	s := spread{min: math.Inf(1), max: math.Inf(-1)}
	var weight float64
	for i := range c.x {
		g := 1.0
		if c.sw != nil {
			g = c.sw[i] * c.sw[i]
		}
		if g == 0 {
			continue
		}
		v := r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]}.Sub(mean).Dot(n)
		weight += g
		s.n++
		s.min, s.max = min(s.min, v), max(s.max, v)
		s.ss += v * v
		s.wss += g * v * v
	}
	out := PlaneFit{Plane: Plane{Point: c.back(mean), Normal: n}, Residuals: s.summary(1, c.scale)}
	out.Cov[0][0] = out.Residuals.Sigma * out.Residuals.Sigma / weight
	return out, nil
}
