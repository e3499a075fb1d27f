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
	// it does not have; of Direction, Perpendicular and Axis one may be given.

	// Radius, if above zero, mm, is that of a circle, sphere or cylinder.
	Radius float64
	// Direction, if not zero, is that of a plane's normal, or of the axis of a
	// cylinder or cone.
	Direction r3.Vector
	// Perpendicular, if not zero, is a direction that a plane's normal or a
	// cylinder's axis is perpendicular to.
	Perpendicular r3.Vector
	// Axis, if its Direction is not zero, is that of a cylinder or cone.
	Axis Line

	// MaxIter bounds the iterations. Zero means 200.
	MaxIter int
	// Jobs bounds the goroutines. Zero means as many as there are cores.
	Jobs int
}

// what a shape can hold.
const (
	holdsRadius = 1 << iota
	holdsDirection
	holdsPerpendicular
	holdsAxis
)

// check refuses what the shape does not have, and returns the number of parameters
// that are held of a direction or an axis.
func (o *Options) check(feature string, holds int) (fewer int, err error) {
	bad := func(reason string) (int, error) { return 0, &InputError{feature, -1, r3.Vector{}, reason} }
	if !(o.Radius >= 0) || math.IsInf(o.Radius, 0) {
		return bad("the radius held must be a positive number")
	}
	if !geom.Finite(o.Direction) || !geom.Finite(o.Perpendicular) || !geom.Finite(o.Axis.Point) || !geom.Finite(o.Axis.Direction) {
		return bad("a direction held must be of finite numbers")
	}
	asked, ways := 0, 0
	if o.Radius > 0 {
		asked |= holdsRadius
	}
	for _, row := range [...]struct {
		v            r3.Vector
		flag, params int
	}{{o.Direction, holdsDirection, 2}, {o.Perpendicular, holdsPerpendicular, 1}, {o.Axis.Direction, holdsAxis, 4}} {
		if row.v != (r3.Vector{}) {
			asked |= row.flag
			ways++
			fewer = row.params
		}
	}
	switch {
	case asked&^holds&holdsRadius != 0:
		return bad("has no radius that could be held")
	case asked&^holds != 0:
		return bad("cannot hold that direction")
	case ways > 1:
		return bad("one of Direction, Perpendicular and Axis can be held")
	case asked&holdsRadius != 0 && asked&holdsAxis != 0:
		return bad("nothing is left to fit where radius and axis are held")
	}
	return fewer, nil
}

// start returns Start, nil if there is none, if it is usable and of the kind.
func (o *Options) start(kind Kind) (Shape, error) {
	s := o.Start
	if f, ok := s.(Fit); ok {
		s = f.Surface()
	}
	if s == nil {
		return nil, nil
	}
	direction, size := r3.Vector{X: 1}, 1.0
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
		direction, size = f.Axis, f.HalfAngle.Radians()
		s = Cone{f.Apex, geom.Unit(f.Axis), f.HalfAngle}
	}
	bad := func(missing string) (Shape, error) {
		return nil, &InputError{kind.String(), -1, s.anchor(), "the start needs " + missing}
	}
	switch {
	case s.Kind() != kind:
		return bad("to be a " + kind.String())
	case !geom.Finite(s.anchor()):
		return bad("a place")
	case !geom.Finite(direction) || direction == (r3.Vector{}):
		return bad("a direction")
	case kind == KindCone && !(size > 0 && size < math.Pi/2):
		return bad("a half angle between 0 and 90 degrees")
	case !(size > 0) || math.IsInf(size, 0):
		return bad("a radius above zero")
	}
	return s, nil
}
