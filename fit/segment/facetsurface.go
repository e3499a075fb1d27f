package segment

import (
	"errors"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
)

// facetSurface is a curved surface that panels may be the flat sides of.
// Coordinates are mm from the scan's origin.
type facetSurface interface {
	// signed is the distance of q, positive outside.
	signed(q r3.Vector) float64
	// outward is the surface's unit normal beside q, away from the axis or
	// the centre.
	outward(q r3.Vector) r3.Vector
	// chords reports whether a plane holds two straight lines of the surface
	// or runs along one: only then may a panel, cut off by another body, have
	// corners inside the surface.
	chords(normal, point r3.Vector, extent, tol float64) bool
	// turn is the angle that one step of the tessellation spans about the axis
	// or the centre, from the corners of one side.
	turn(pts []r3.Vector) float64
	// refit fits the surface anew; tol is what the points may be off by.
	refit(pts []r3.Vector, tol float64) (facetSurface, bool)
	// curvature is one over the radius at q, 1/mm.
	curvature(q r3.Vector) float64
	kind() facetKind
}

type facetKind int

const (
	facetCylinder facetKind = iota
	facetCone
	facetSphere
)

type facetCyl struct{ fit.Cylinder }

func (s facetCyl) kind() facetKind               { return facetCylinder }
func (s facetCyl) signed(q r3.Vector) float64    { return s.Cylinder.Distance(q) }
func (s facetCyl) curvature(r3.Vector) float64   { return 1 / s.Radius }
func (s facetCyl) outward(q r3.Vector) r3.Vector { return across(q.Sub(s.Point), s.Axis).Normalize() }
func (s facetCyl) turn(pts []r3.Vector) float64  { return azimuthSpan(pts, s.Point, s.Axis) }
func (s facetCyl) chords(n, _ r3.Vector, extent, tol float64) bool {
	return math.Abs(n.Dot(s.Axis))*extent <= 4*tol
}

func (s facetCyl) refit(pts []r3.Vector, tol float64) (facetSurface, bool) {
	f, err := fit.CylinderTo(pts, fit.Options{Start: s.Cylinder})
	return facetCyl{f.Cylinder}, facetFitted(err, f.Residuals, tol)
}

type facetCon struct{ fit.Cone }

func (s facetCon) kind() facetKind              { return facetCone }
func (s facetCon) signed(q r3.Vector) float64   { return s.Cone.Distance(q) }
func (s facetCon) turn(pts []r3.Vector) float64 { return azimuthSpan(pts, s.Apex, s.Axis) }
func (s facetCon) curvature(q r3.Vector) float64 {
	// The normal section across the generator has the radius w / cos(half).
	return math.Cos(s.HalfAngle.Radians()) / across(q.Sub(s.Apex), s.Axis).Norm()
}

func (s facetCon) outward(q r3.Vector) r3.Vector {
	sin, cos := math.Sincos(s.HalfAngle.Radians())
	return across(q.Sub(s.Apex), s.Axis).Normalize().Mul(cos).Sub(s.Axis.Mul(sin))
}

func (s facetCon) chords(n, point r3.Vector, extent, tol float64) bool {
	reach := max(1, point.Distance(s.Apex)/extent)
	return math.Abs(point.Sub(s.Apex).Dot(n)) <= 4*tol*reach
}

func (s facetCon) refit(pts []r3.Vector, tol float64) (facetSurface, bool) {
	f, err := fit.ConeTo(pts, fit.Options{Start: s.Cone})
	return facetCon{f.Cone}, facetFitted(err, f.Residuals, tol)
}

type facetBall struct{ fit.Sphere }

func (s facetBall) kind() facetKind                                 { return facetSphere }
func (s facetBall) signed(q r3.Vector) float64                      { return s.Sphere.Distance(q) }
func (s facetBall) outward(q r3.Vector) r3.Vector                   { return q.Sub(s.Centre).Normalize() }
func (s facetBall) curvature(r3.Vector) float64                     { return 1 / s.Radius }
func (s facetBall) chords(_, _ r3.Vector, extent, tol float64) bool { return false }

func (s facetBall) turn(pts []r3.Vector) float64 {
	var middle r3.Vector
	for _, p := range pts {
		middle = middle.Add(p.Sub(s.Centre).Normalize())
	}
	var half float64
	for _, p := range pts {
		half = max(half, float64(p.Sub(s.Centre).Angle(middle)))
	}
	return math.Sqrt2 * half // of a square's side, not of its diagonal
}

func (s facetBall) refit(pts []r3.Vector, tol float64) (facetSurface, bool) {
	f, err := fit.SphereTo(pts, fit.Options{})
	return facetBall{f.Sphere}, facetFitted(err, f.Residuals, tol)
}

// facetFitted reports whether a fit may be used: also one that ran out of steps
// at the rounding of its points, if they all lie on it.
func facetFitted(err error, r fit.ResidualStats, tol float64) bool {
	return err == nil || errors.Is(err, fit.ErrNoConvergence) && max(-r.Min, r.Max) <= tol
}

// across returns the part of w square to the unit vector a.
func across(w, a r3.Vector) r3.Vector { return w.Sub(a.Mul(w.Dot(a))) }

// azimuthSpan returns the angle about an axis that the points span, seen from
// their middle. A point on the axis has no azimuth and is left out.
func azimuthSpan(pts []r3.Vector, point, axis r3.Vector) float64 {
	var middle r3.Vector
	farthest := 0.0
	for _, p := range pts {
		w := across(p.Sub(point), axis)
		middle = middle.Add(w)
		farthest = max(farthest, w.Norm())
	}
	if middle.Norm() <= 1e-9*farthest {
		return 2 * math.Pi
	}
	side := axis.Cross(middle)
	var lo, hi float64
	for _, p := range pts {
		w := across(p.Sub(point), axis)
		if w.Norm() < 1e-3*farthest {
			continue
		}
		a := math.Atan2(w.Dot(side), w.Dot(middle))
		lo, hi = min(lo, a), max(hi, a)
	}
	return hi - lo
}

// circleThrough returns the centre and radius of the circle through three
// points, in their own plane. Three points on a line have none.
func circleThrough(a, b, c r3.Vector) (centre r3.Vector, radius float64, ok bool) {
	u, v := b.Sub(a), c.Sub(a)
	w := u.Cross(v)
	if w.Norm() <= 1e-9*u.Norm()*v.Norm() {
		return centre, 0, false
	}
	// centre - a = (|u|^2 v×w + |v|^2 w×u) / (2 |w|^2)
	d := v.Cross(w).Mul(u.Norm2()).Add(w.Cross(u).Mul(v.Norm2())).Mul(1 / (2 * w.Norm2()))
	return a.Add(d), d.Norm(), true
}

// coneThrough returns the cone with a given apex whose surface holds three
// directions from it.
func coneThrough(apex, g1, g2, g3 r3.Vector) (fit.Cone, bool) {
	// (g1-g2)·a = 0 and (g2-g3)·a = 0
	g1, g2, g3 = g1.Normalize(), g2.Normalize(), g3.Normalize()
	axis := g1.Sub(g2).Cross(g2.Sub(g3))
	if axis.Norm() < 1e-9 {
		return fit.Cone{}, false
	}
	axis = axis.Normalize()
	cos := g1.Add(g2).Add(g3).Dot(axis) / 3
	if cos < 0 {
		axis, cos = axis.Mul(-1), -cos
	}
	return fit.Cone{Apex: apex, Axis: axis, HalfAngle: s1.Angle(math.Acos(min(1, cos)))}, true
}
