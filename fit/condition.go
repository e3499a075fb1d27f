package fit

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// The condition number of a fit is the ratio of the largest to the smallest
// singular value of the Jacobian with its columns scaled to one length, the
// scaling that comes within a small factor of the least condition number (van
// der Sluis, Condition numbers and equilibration of matrices, Numer. Math. 14
// (1969) 14-23). Of the correlation matrix, the inverse scaled likewise, it is
// the root of the ratio of eigenvalues. It has no unit and does not depend on
// the noise: 1 is a full circle; a thousand is a set of points that tells one
// combination of the parameters a thousand times worse than another. Held
// parameters, of variance zero, do not count.

// Condition returns the fit's condition number; 0 where the covariance is not
// known.
func (f PlaneFit) Condition() float64 {
	return condition(3, func(i, j int) float64 { return f.Cov[i][j] })
}

// Condition is PlaneFit.Condition for a line.
func (f LineFit) Condition() float64 {
	return condition(4, func(i, j int) float64 { return f.Cov[i][j] })
}

// Condition is PlaneFit.Condition for a circle in a plane.
func (f Circle2Fit) Condition() float64 {
	return condition(3, func(i, j int) float64 { return f.Cov[i][j] })
}

// Condition is PlaneFit.Condition for a circle in space.
func (f CircleFit) Condition() float64 {
	return condition(6, func(i, j int) float64 { return f.Cov[i][j] })
}

// Condition is PlaneFit.Condition for a sphere.
func (f SphereFit) Condition() float64 {
	return condition(4, func(i, j int) float64 { return f.Cov[i][j] })
}

// Condition is PlaneFit.Condition for a cylinder.
func (f CylinderFit) Condition() float64 {
	return condition(5, func(i, j int) float64 { return f.Cov[i][j] })
}

// Condition is PlaneFit.Condition for a cone.
func (f ConeFit) Condition() float64 {
	return condition(6, func(i, j int) float64 { return f.Cov[i][j] })
}

func condition(n int, cov func(i, j int) float64) float64 {
	var free []int
	for i := range n {
		if cov(i, i) > 0 {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return 0
	}
	c := mat.NewSymDense(len(free), nil)
	for a, i := range free {
		for b, j := range free[:a+1] {
			c.SetSym(a, b, cov(i, j)/math.Sqrt(cov(i, i)*cov(j, j)))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(c, false) {
		return math.Inf(1)
	}
	v := e.Values(nil)
	if v[0] <= 0 {
		return math.Inf(1)
	}
	return math.Sqrt(v[len(v)-1] / v[0])
}
