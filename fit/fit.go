package fit

import (
	"errors"
	"fmt"

	"github.com/golang/geo/r3"
	"gonum.org/v1/gonum/mat"

	"spotface/mesh/geom"
)

// Fit is a fitted surface: a PlaneFit, CylinderFit, SphereFit or ConeFit.
type Fit interface {
	Shape
	// Surface returns the shape without what is known of it.
	Surface() Shape
	// Covariance returns the covariance of the local parameters, as Cov.
	Covariance() *mat.SymDense
	// WithCovariance returns the fit with another covariance.
	WithCovariance(cov mat.Symmetric) Fit
	// Statistics returns Residuals.
	Statistics() ResidualStats
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

// Covariance is Cov.
func (f PlaneFit) Covariance() *mat.SymDense { return symmetric(f.Cov[0][:], f.Cov[1][:], f.Cov[2][:]) }

// WithCovariance returns f with cov for Cov.
func (f PlaneFit) WithCovariance(cov mat.Symmetric) Fit {
	fill(cov, f.Cov[0][:], f.Cov[1][:], f.Cov[2][:])
	return f
}

// Statistics is Residuals.
func (f PlaneFit) Statistics() ResidualStats { return f.Residuals }

// Reversed returns f with Normal the other way.
func (f PlaneFit) Reversed() PlaneFit {
	// n = n0 + a e1 + b e2, so -n = -n0 + a' g1 + b' g2 with g the frame of
	// -n0; the shift changes its sign too.
	e1, e2 := geom.Basis(f.Normal)
	f.Normal = f.Normal.Mul(-1)
	g1, g2 := geom.Basis(f.Normal)
	m := matrix{{-1}, {0, -e1.Dot(g1), -e2.Dot(g1)}, {0, -e1.Dot(g2), -e2.Dot(g2)}}
	var cov matrix
	for i := range f.Cov {
		copy(cov[i][:], f.Cov[i][:])
	}
	cov = propagate(&m, &cov, 3)
	copyCov(&cov, f.Cov[0][:], f.Cov[1][:], f.Cov[2][:])
	f.Residuals.Min, f.Residuals.Max = -f.Residuals.Max, -f.Residuals.Min
	return f
}

// Surface returns Cylinder.
func (f CylinderFit) Surface() Shape { return f.Cylinder }

// Covariance is Cov.
func (f CylinderFit) Covariance() *mat.SymDense {
	return symmetric(f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:], f.Cov[4][:])
}

// WithCovariance returns f with cov for Cov.
func (f CylinderFit) WithCovariance(cov mat.Symmetric) Fit {
	fill(cov, f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:], f.Cov[4][:])
	return f
}

// Statistics is Residuals.
func (f CylinderFit) Statistics() ResidualStats { return f.Residuals }

// Surface returns Sphere.
func (f SphereFit) Surface() Shape { return f.Sphere }

// Covariance is Cov.
func (f SphereFit) Covariance() *mat.SymDense {
	return symmetric(f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:])
}

// WithCovariance returns f with cov for Cov.
func (f SphereFit) WithCovariance(cov mat.Symmetric) Fit {
	fill(cov, f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:])
	return f
}

// Statistics is Residuals.
func (f SphereFit) Statistics() ResidualStats { return f.Residuals }

// Surface returns Cone.
func (f ConeFit) Surface() Shape { return f.Cone }

// Covariance is Cov.
func (f ConeFit) Covariance() *mat.SymDense {
	return symmetric(f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:], f.Cov[4][:], f.Cov[5][:])
}

// WithCovariance returns f with cov for Cov.
func (f ConeFit) WithCovariance(cov mat.Symmetric) Fit {
	fill(cov, f.Cov[0][:], f.Cov[1][:], f.Cov[2][:], f.Cov[3][:], f.Cov[4][:], f.Cov[5][:])
	return f
}

// Statistics is Residuals.
func (f ConeFit) Statistics() ResidualStats { return f.Residuals }

func symmetric(rows ...[]float64) *mat.SymDense {
	s := mat.NewSymDense(len(rows), nil)
	for i, row := range rows {
		for j := i; j < len(row); j++ {
			s.SetSym(i, j, row[j])
		}
	}
	return s
}

// fill writes s to rows.
func fill(s mat.Symmetric, rows ...[]float64) {
	for i, row := range rows {
		for j := range row {
			row[j] = s.At(i, j)
		}
	}
}
