package segment

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"

	"spotface/fit"
)

// Surface is a plane, cylinder, cone or sphere of a scan.
type Surface struct {
	// ID is "P1", "C1", "K1" (cone), "S1" (sphere), numbered by size, largest
	// first.
	ID string
	// Points are the scan points that belong to it, ascending.
	Points []int32
	// Fit is a fit.PlaneFit, CylinderFit, ConeFit or SphereFit. A plane's Normal
	// points out of the material where the scan knows which side that is.
	Fit fit.Fit
	// Internal says that the material is outside a round surface: it is a hole.
	Internal bool
	Area     float64    // mm², estimated, of a plane; in a drawing's mesh of any surface
	Arc      s1.Angle   // of a cylinder's or cone's circumference that was seen
	Extent   [2]float64 // of a cylinder or cone along Axis, from Point or Apex, mm
	Form     Form       // of a plane or cylinder
}

// Segmentation is a scan divided into surfaces.
type Segmentation struct {
	// Surfaces are numbered within each kind by their order.
	Surfaces []Surface
	// PointSurface holds for each scan point the index into Surfaces of the surface
	// that it belongs to, or -1.
	PointSurface []int32
	// TriangleSurface holds the same for each kept triangle of a mesh, or is nil.
	TriangleSurface []int32
	// Interior says of each scan point whether it lies away from the edge of its
	// surface, where scanners round; nil for a modeller's mesh, which has no such
	// edges.
	Interior []bool
	// Noise and Spacing are what the segmentation measured and used, mm.
	Noise, Spacing float64
}

// Plane, Cylinder, Cone and Sphere are copies of a Surface with its fit under its
// own type.
type (
	Plane struct {
		Surface
		fit.PlaneFit
	}
	Cylinder struct {
		Surface
		fit.CylinderFit
	}
	Cone struct {
		Surface
		fit.ConeFit
	}
	Sphere struct {
		Surface
		fit.SphereFit
	}
)

// Planes returns the planes among Surfaces, in their order.
func (s *Segmentation) Planes() []Plane {
	return ofKind(s, func(u Surface, f fit.PlaneFit) Plane { return Plane{u, f} })
}

// Cylinders returns the cylinders among Surfaces, in their order.
func (s *Segmentation) Cylinders() []Cylinder {
	return ofKind(s, func(u Surface, f fit.CylinderFit) Cylinder { return Cylinder{u, f} })
}

// Cones returns the cones among Surfaces, in their order.
func (s *Segmentation) Cones() []Cone {
	return ofKind(s, func(u Surface, f fit.ConeFit) Cone { return Cone{u, f} })
}

// Spheres returns the spheres among Surfaces, in their order.
func (s *Segmentation) Spheres() []Sphere {
	return ofKind(s, func(u Surface, f fit.SphereFit) Sphere { return Sphere{u, f} })
}

func ofKind[F fit.Fit, T any](s *Segmentation, of func(Surface, F) T) (out []T) {
	for _, u := range s.Surfaces {
		if f, ok := u.Fit.(F); ok {
			out = append(out, of(u, f))
		}
	}
	return out
}

// add numbers u, whose fit is in the frame of a scan's offsets, and appends it.
func (s *Segmentation) add(u Surface, origin r3.Vector) {
	kind := u.Fit.Kind()
	n := 1
	for _, v := range s.Surfaces {
		if v.Fit.Kind() == kind {
			n++
		}
	}
	letter := [...]byte{planeKind: 'P', cylinderKind: 'C', sphereKind: 'S', coneKind: 'K'}
	u.ID = fmt.Sprintf("%c%d", letter[kind], n)
	switch f := u.Fit.(type) {
	case fit.PlaneFit:
		f.Point = f.Point.Add(origin)
		u.Fit = f
	case fit.CylinderFit:
		f.Point = f.Point.Add(origin)
		u.Fit = f
	case fit.SphereFit:
		f.Centre = f.Centre.Add(origin)
		u.Fit = f
	case fit.ConeFit:
		f.Apex = f.Apex.Add(origin)
		u.Fit = f
	}
	s.Surfaces = append(s.Surfaces, u)
}

// kind of a surface, in the order of preference between equals.
type kind = fit.Kind

const (
	planeKind    = fit.KindPlane
	cylinderKind = fit.KindCylinder
	sphereKind   = fit.KindSphere
	coneKind     = fit.KindCone
)

// shape is a surface in the scan's offset frame, in the form that the hot
// loops evaluate. p is a point of the plane, of the axis, the centre or the
// apex; a the normal or axis.
type shape struct {
	kind     kind
	p, a     r3.Vector
	r        float64
	sin, cos float64 // of a cone's half angle
}

// at returns the signed distance of q, mm, and the surface's unit normal at
// the foot of q, pointing to the positive side. On an axis or in a centre the
// normal is zero.
func (s *shape) at(q r3.Vector) (d float64, n r3.Vector) {
	v := q.Sub(s.p)
	switch s.kind {
	case planeKind:
		return v.Dot(s.a), s.a
	case sphereKind:
		l := v.Norm()
		if l == 0 {
			return -s.r, r3.Vector{}
		}
		return l - s.r, v.Mul(1 / l)
	}
	h := v.Dot(s.a)
	w := v.Sub(s.a.Mul(h))
	l := w.Norm()
	if l == 0 {
		return -s.r, r3.Vector{}
	}
	w = w.Mul(1 / l)
	if s.kind == cylinderKind {
		return l - s.r, w
	}
	return l*s.cos - h*s.sin, w.Mul(s.cos).Sub(s.a.Mul(s.sin))
}

// extreme reports whether a cone is as good as a cylinder or a plane.
func (s *shape) extreme() bool { return s.sin < extremeSin || s.cos < extremeCos }

// shapeOf returns f, or what it was fitted to, in the form of the hot loops.
func shapeOf(f fit.Shape) shape {
	if g, ok := f.(fit.Fit); ok {
		f = g.Surface()
	}
	switch f := f.(type) {
	case fit.Plane:
		return shape{kind: planeKind, p: f.Point, a: f.Normal}
	case fit.Cylinder:
		return shape{kind: cylinderKind, p: f.Point, a: f.Axis, r: f.Radius}
	case fit.Sphere:
		return shape{kind: sphereKind, p: f.Centre, r: f.Radius}
	case fit.Cone:
		sin, cos := math.Sincos(f.HalfAngle.Radians())
		return shape{kind: coneKind, p: f.Apex, a: f.Axis, sin: sin, cos: cos}
	}
	return shape{}
}

// surface returns s as package fit has it.
func (s *shape) surface() fit.Shape {
	switch s.kind {
	case planeKind:
		return fit.Plane{Point: s.p, Normal: s.a}
	case cylinderKind:
		return fit.Cylinder{Point: s.p, Axis: s.a, Radius: s.r}
	case sphereKind:
		return fit.Sphere{Centre: s.p, Radius: s.r}
	}
	return fit.Cone{Apex: s.p, Axis: s.a, HalfAngle: s1.Angle(math.Atan2(s.sin, s.cos))}
}

// refit returns s refined by least squares of the orthogonal distance to pts.
// ok is false where the fit fails or runs away from where it started.
func (s *shape) refit(pts []r3.Vector) (out shape, ok bool) {
	f, err := fit.From(s.surface(), pts, fit.Options{MaxIter: refitSteps, ShapeOnly: true})
	if !usable(err) {
		return *s, false
	}
	out = shapeOf(f)
	return out, out.sane()
}

// usable reports whether a fit's answer serves the search: where the steps ran
// out, or a radius or taper is not yet known well, the next turn has more points.
func usable(err error) bool {
	var flat *fit.FlatError
	var taper *fit.TaperError
	return err == nil || errors.Is(err, fit.ErrNoConvergence) || errors.As(err, &flat) ||
		errors.As(err, &taper)
}

// sane reports whether all parameters are finite and the shape is one that a
// scan could show.
func (s *shape) sane() bool {
	sum := s.p.X + s.p.Y + s.p.Z + s.a.X + s.a.Y + s.a.Z + s.r + s.sin + s.cos
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return false
	}
	switch s.kind {
	case planeKind:
		return s.a.Norm2() > 0.5
	case coneKind:
		return s.sin > saneSin && s.cos > saneCos
	}
	return s.r > 0
}
