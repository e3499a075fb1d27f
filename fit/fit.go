package fit

import (
	"cmp"
	"errors"
	"fmt"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"
)

// Fit is a fitted surface: a PlaneFit, CylinderFit, SphereFit or ConeFit.
type Fit interface {
	Shape
	// Surface returns the shape without what is known of it.
	Surface() Shape
	// Covariance returns the covariance of the local parameters, as Cov.
	Covariance() *mat.SymDense
	// Statistics returns Residuals.
	Statistics() ResidualStats
	// Iterations returns Iters.
	Iterations() int

	with(cov matrix) Fit
}

// Result is what every fit returns besides its shape.
type Result struct {
	// Cov is the covariance of the local parameters that each fit names, mm and rad; what
	// is beyond them is zero. Scan noise from the residuals.
	Cov       [maxParams][maxParams]float64
	Residuals ResidualStats
	Iters     int // zero for planes and lines
	params    int
}

// Statistics returns Residuals.
func (r Result) Statistics() ResidualStats { return r.Residuals }

// Iterations returns Iters.
func (r Result) Iterations() int { return r.Iters }

// Covariance is Cov of the parameters that the shape has.
func (r Result) Covariance() *mat.SymDense {
	k := cmp.Or(r.params, maxParams)
	s := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			s.SetSym(i, j, r.Cov[i][j])
		}
	}
	return s
}

// ResidualStats describes the residuals of a fit: signed distances of the points
// from the shape, mm: for a circle in space the distance in space, negative
// inside the circle; for a line in space without sign.
type ResidualStats struct {
	N   int
	RMS float64 // root of the mean square, no correction for degrees of freedom
	Min float64
	Max float64
	// FormError is Max - Min; for a line in space twice the largest distance.
	FormError float64
	// Sigma is the point noise: root of the sum of squares over the degrees of
	// freedom. Zero where there are none.
	Sigma float64
}

// To fits a surface of a kind to pts: PlaneTo, CylinderTo, SphereTo or ConeTo.
func To(kind Kind, pts []r3.Vector, opt Options) (Fit, error) {
	switch kind {
	case KindPlane:
		return PlaneTo(pts, opt)
	case KindCylinder:
		return CylinderTo(pts, opt)
	case KindSphere:
		return SphereTo(pts, opt)
	case KindCone:
		return ConeTo(pts, opt)
	}
	return nil, fmt.Errorf("fit: no surface of kind %d", kind)
}

// From is To of the kind of start, with Options.Start.
func From(start Shape, pts []r3.Vector, opt Options) (Fit, error) {
	if start == nil {
		return nil, errors.New("fit: no start")
	}
	opt.Start = start
	return To(start.Kind(), pts, opt)
}

// Surface returns Plane.
func (f PlaneFit) Surface() Shape { return f.Plane }

// Surface returns Cylinder.
func (f CylinderFit) Surface() Shape { return f.Cylinder }

// Surface returns Sphere.
func (f SphereFit) Surface() Shape { return f.Sphere }

// Surface returns Cone.
func (f ConeFit) Surface() Shape { return f.Cone }

func (f PlaneFit) with(cov matrix) Fit    { f.Cov = cov; return f }
func (f CylinderFit) with(cov matrix) Fit { f.Cov = cov; return f }
func (f SphereFit) with(cov matrix) Fit   { f.Cov = cov; return f }
func (f ConeFit) with(cov matrix) Fit     { f.Cov = cov; return f }
