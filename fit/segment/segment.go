package segment

import (
	"fmt"

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
	Area     float64    // mm², estimated, of a plane
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

// Options of Segment; the zero value works.
type Options struct {
	// HalfWidth, mm, is that of the band within which a point belongs to a surface.
	// Zero means from the noise estimated from the scan.
	HalfWidth float64
	// Form is how far, mm, a surface may leave its shape by form. Zero means a
	// hundredth of the surface's extent; less than the noise means no form.
	// A modeller's mesh has no form, and this is not used there.
	Form float64
	// Seed picks the sample sequence.
	Seed uint64
	// Jobs is the number of goroutines; zero means GOMAXPROCS. It does not
	// change the result.
	Jobs int
	// Progress, if set, is called from one goroutine, at most ten times a
	// second.
	Progress func(done, total int)
}
