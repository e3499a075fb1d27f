package fit

import (
	"cmp"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// Options of every fit. The zero value works.
type Options struct {
	// Weights, if not nil, holds one weight a point, the inverse of its
	// variance up to a common factor. Nil means all points count the same.
	// Points of weight zero are left out.
	Weights []float64
	// Start, if not nil, is refined without a search for another start. A plane's
	// normal and a cylinder's axis keep its sense.
	Start Shape

	// What is known beforehand is held, and has no variance. A shape refuses what
	// it does not have.

	// Radius, if above zero, mm, is that of a circle, sphere or cylinder.
	Radius float64
	// Direction, if not zero, is that of a plane's normal, or of the axis of a
	// cylinder or cone.
	Direction r3.Vector

	// MaxIter bounds the iterations. Zero means 200.
	MaxIter int
	// ShapeOnly leaves Cov and Residuals out, for searches that fit thousands of times.
	ShapeOnly bool
}

// check refuses what a shape cannot hold: a radius, a direction.
func (o *Options) check(feature string, radius, direction bool) error {
	reason := ""
	switch {
	case !(o.Radius >= 0) || math.IsInf(o.Radius, 0):
		reason = "the radius held must be a positive number"
	case !geom.Finite(o.Direction):
		reason = "a direction held must be of finite numbers"
	case o.Radius > 0 && !radius:
		reason = "has no radius that could be held"
	case o.Direction != (r3.Vector{}) && !direction:
		reason = "cannot hold a direction"
	default:
		return nil
	}
	return &InputError{feature, -1, r3.Vector{}, reason}
}

// start returns Start, nil if there is none, if it is usable and of the kind, with what is
// held in its place.
func (o *Options) start(kind Kind) (Shape, error) {
	s := o.Start
	if f, ok := s.(Fit); ok {
		s = f.Surface()
	}
	if s == nil {
		return nil, nil
	}
	direction, size, most := r3.Vector{X: 1}, 1.0, math.MaxFloat64
	switch f := s.(type) {
	case Plane:
		direction = f.Normal
	case Cylinder:
		direction, size = f.Axis, cmp.Or(o.Radius, f.Radius)
		s = Cylinder{f.Point, geom.Unit(f.Axis), size}
	case Sphere:
		size = cmp.Or(o.Radius, f.Radius)
		s = Sphere{f.Centre, size}
	case Cone:
		direction, size, most = f.Axis, f.HalfAngle.Radians(), math.Pi/2
		s = Cone{f.Apex, geom.Unit(f.Axis), f.HalfAngle}
	}
	if s.Kind() != kind || !geom.Finite(s.anchor()) || !geom.Finite(direction) || direction == (r3.Vector{}) ||
		!(size > 0 && size < most) {
		return nil, &InputError{kind.String(), -1, s.anchor(), "the start needs to be a " + kind.String() +
			" with a place, a direction and a size"}
	}
	return s, nil
}
