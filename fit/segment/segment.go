package segment

import (
	"github.com/golang/geo/s1"

	"spotface/fit"
)

// Region is what every surface has.
type Region struct {
	// ID is "P1", "C1", "K1" (cone), "S1" (sphere), numbered by size, largest
	// first.
	ID string
	// Points are the scan points that belong to it, ascending.
	Points []int32
}

// Plane is a flat face; its Normal points out of the material where the scan
// knows which side that is.
type Plane struct {
	Region
	fit.PlaneFit
	Area float64 // mm², estimated
	Form Form
}

// Cylinder is a bore, a hole's wall or a boss.
type Cylinder struct {
	Region
	fit.CylinderFit
	Internal bool       // the material is outside it: a hole
	Arc      s1.Angle   // of the circumference that was seen
	Extent   [2]float64 // along Axis from Point, mm
	Form     Form
}

// Cone is a countersink or chamfer.
type Cone struct {
	Region
	fit.ConeFit
	Internal bool
	Arc      s1.Angle
	Extent   [2]float64 // along Axis from Apex, mm
}

// Sphere is a ball or a dish.
type Sphere struct {
	Region
	fit.SphereFit
	Internal bool
}

// Segmentation is a scan divided into surfaces.
type Segmentation struct {
	Planes    []Plane
	Cylinders []Cylinder
	Cones     []Cone
	Spheres   []Sphere
	// Surface holds for each scan point the index into IDs of the surface it
	// belongs to, or -1.
	Surface []int32
	IDs     []string
	// Facets holds the same for each kept triangle of a mesh, or is nil.
	Facets []int32
	// Inner says of each scan point whether it lies away from the edge of its
	// surface, where scanners round; nil for a modeller's mesh, which has no such
	// edges.
	Inner []bool
	// Noise and Spacing are what the segmentation measured and used, mm.
	Noise, Spacing float64
}

// Options of Segment; the zero value works.
type Options struct {
	// Band is the half-width, mm, within which a point belongs to a surface.
	// Zero means from the noise estimated from the scan.
	Band float64
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
