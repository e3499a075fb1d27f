package segment

import (
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
	"spotface/mesh/geom"
)

// looseSeeds proposes a cylinder or cone round a lone triangle, whose edges
// need not be straight lines of the surface where both ends of the wall were
// divided differently: the axis is the direction to which the normals nearby
// keep one angle.
func (f *facetFinder) looseSeeds(kind facetKind, id int32) []facetSeed {
	if len(f.panels[id].tris) != 1 {
		return nil
	}
	// In a strip each ring of neighbours brings two more corners.
	rings := 3
	if kind == facetCone {
		rings = 5
	}
	var out []facetSeed
	for _, internal := range []bool{false, true} {
		near := f.around(id, internal, rings)
		if len(near) < 4 {
			continue
		}
		pts := f.corners(near)
		var s facetSurface
		if kind == facetCylinder {
			s = f.looseCylinder(near, pts)
		} else {
			s = f.looseCone(near, pts)
		}
		if s != nil && f.largestOff(s, pts) <= 2*f.m.tol {
			out = append(out, facetSeed{s, internal, near})
		}
	}
	return out
}

func (f *facetFinder) largestOff(s facetSurface, pts []r3.Vector) float64 {
	worst := 0.0
	for _, q := range pts {
		worst = max(worst, math.Abs(s.signed(q)))
	}
	return worst
}

// looseCylinder fits a cylinder to pts about the direction square to the
// panels' normals.
func (f *facetFinder) looseCylinder(panels []int32, pts []r3.Vector) facetSurface {
	var ends []r3.Vector
	for _, p := range panels {
		n := f.panels[p].normal
		ends = append(ends, n, n.Mul(-1))
	}
	square, err := fit.PlaneTo(ends, fit.Options{})
	if err != nil || square.Residuals.RMS > 0.2 || len(pts) < 7 {
		return nil
	}
	e1, e2 := geom.Basis(square.Normal)
	xy := make([][2]float64, len(pts))
	for k, q := range pts {
		xy[k] = [2]float64{q.Dot(e1), q.Dot(e2)}
	}
	c, err := fit.Circle2DTo(xy, fit.Options{})
	if err != nil || c.Residuals.RMS > 0.1*c.Radius || c.Radius > 10*f.m.size {
		return nil
	}
	start := fit.Cylinder{Point: e1.Mul(c.X).Add(e2.Mul(c.Y)), Axis: square.Normal, Radius: c.Radius}
	if s, ok := (facetCyl{start}).refit(pts, 2*f.m.tol); ok {
		return s
	}
	return nil
}

// looseCone fits a cone to pts about the direction to which the panels'
// normals keep one angle, n·a = -sin(half) outside, starting from the apex in
// which their planes nearly meet.
func (f *facetFinder) looseCone(panels []int32, pts []r3.Vector) facetSurface {
	var ends []r3.Vector
	for _, p := range panels {
		ends = append(ends, f.panels[p].normal)
	}
	ring, err := fit.PlaneTo(ends, fit.Options{})
	if err != nil || ring.Residuals.RMS > 0.05 || len(pts) < 8 {
		return nil
	}
	// Least squares of n·x = n·c over the panels.
	var m [3][3]float64
	var rhs r3.Vector
	for _, p := range panels {
		n := f.panels[p].normal
		c := [3]float64{n.X, n.Y, n.Z}
		for i := range 3 {
			for j := range 3 {
				m[i][j] += c[i] * c[j]
			}
		}
		rhs = rhs.Add(n.Mul(n.Dot(f.panels[p].centre)))
	}
	apex, ok := cramer(m, rhs)
	axis, toward := ring.Normal, pts[0].Sub(apex)
	if !ok || apex.Distance(pts[0]) > 100*f.m.size {
		return nil
	}
	if toward.Dot(axis) < 0 {
		axis = axis.Mul(-1)
	}
	half := math.Asin(min(1, math.Abs(ring.Point.Dot(axis))))
	if half < 0.01 || half > 1.56 {
		return nil
	}
	if s, ok := (facetCon{fit.Cone{Apex: apex, Axis: axis, HalfAngle: s1.Angle(half)}}).refit(pts, 2*f.m.tol); ok {
		return s
	}
	return nil
}

// cramer solves m x = b by Cramer's rule.
func cramer(m [3][3]float64, b r3.Vector) (r3.Vector, bool) {
	column := func(k int) r3.Vector { return r3.Vector{X: m[0][k], Y: m[1][k], Z: m[2][k]} }
	u, v, w := column(0), column(1), column(2)
	det := u.Dot(v.Cross(w))
	if math.Abs(det) < 1e-12*u.Norm()*v.Norm()*w.Norm() {
		return r3.Vector{}, false
	}
	return r3.Vector{X: b.Dot(v.Cross(w)), Y: u.Dot(b.Cross(w)), Z: u.Dot(v.Cross(b))}.Mul(1 / det), true
}
