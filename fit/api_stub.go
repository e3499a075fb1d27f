package fit

import "github.com/golang/geo/r3"

// This file is scaffolding: signatures the other packages build on. Replace
// each with its real implementation in plane.go, line.go, ...

// Options of every fit. The zero value works.
type Options struct {
	// Weights, if not nil, holds one weight a point, the inverse of its
	// variance up to a common factor. Nil means all points count the same.
	Weights []float64
	// MaxIter bounds the iterations. Zero means 100.
	MaxIter int
}

// PlaneFit is a fitted plane. Point is the foot of the centroid.
type PlaneFit struct {
	Plane
	// Cov is of (h, a, b): shift along Normal at Point, mm, and tilts toward
	// the two directions of Frame(Normal), rad. Scan noise from the residuals.
	Cov       [3][3]float64
	Residuals Summary
}

type LineFit struct {
	Line
	Cov       [4][4]float64 // (u, v, a, b): shift across at Point along Frame(Direction), tilts
	Residuals Summary
}

type CircleFit struct {
	Circle
	Cov       [6][6]float64 // (u, v, w, a, b, r): centre along Frame(Normal) and Normal, tilts, radius
	Residuals Summary
	Iters     int
}

type SphereFit struct {
	Sphere
	Cov       [4][4]float64 // (x, y, z, r)
	Residuals Summary
	Iters     int
}

type CylinderFit struct {
	Cylinder                // Point is the foot of the centroid on the axis
	Cov       [5][5]float64 // (u, v, a, b, r): shift across at Point along Frame(Axis), tilts, radius
	Residuals Summary
	Iters     int
}

type ConeFit struct {
	Cone
	Cov       [6][6]float64 // see cone.go
	Residuals Summary
	Iters     int
}

func PlaneTo(pts []r3.Vector, opt Options) (PlaneFit, error)   { panic("todo") }
func LineTo(pts []r3.Vector, opt Options) (LineFit, error)     { panic("todo") }
func CircleTo(pts []r3.Vector, opt Options) (CircleFit, error) { panic("todo") }
func SphereTo(pts []r3.Vector, opt Options) (SphereFit, error) { panic("todo") }

// CylinderFrom refines start on pts (no search for a start).
func CylinderFrom(start Cylinder, pts []r3.Vector, opt Options) (CylinderFit, error) { panic("todo") }
func CylinderTo(pts []r3.Vector, opt Options) (CylinderFit, error)                   { panic("todo") }
func ConeFrom(start Cone, pts []r3.Vector, opt Options) (ConeFit, error)             { panic("todo") }
func ConeTo(pts []r3.Vector, opt Options) (ConeFit, error)                           { panic("todo") }

// Circle2To fits a circle to points in a plane given as (x, y) pairs.
func Circle2To(xy [][2]float64, opt Options) (Circle2Fit, error) { panic("todo") }

type Circle2Fit struct {
	X, Y, Radius float64
	Cov          [3][3]float64 // (x, y, r)
	Residuals    Summary
	Iters        int
}

// CylinderAlong fits a cylinder whose axis direction is held.
func CylinderAlong(axis r3.Vector, pts []r3.Vector, opt Options) (CylinderFit, error) { panic("todo") }

// Frame returns two unit vectors that make a right-handed frame with the unit
// vector n: e1 × e2 = n. It is the frame that covariances refer to.
func Frame(n r3.Vector) (e1, e2 r3.Vector) { panic("todo") }
