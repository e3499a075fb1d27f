package budget

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// K is the coverage factor where degrees of freedom do not matter, and Confidence
// what it holds of a normal distribution, 95.45 % (JCGM 100:2008, table G.1).
const (
	K          = 2.0
	Confidence = 0.954499736103641585599434725666933125056447
)

// Coverage returns the factor k for which ±k holds the share p, 0 to 1, of
// Student's t distribution with dof degrees of freedom (JCGM 100:2008, table
// G.2); of the normal distribution where dof is zero or infinite.
func Coverage(p, dof float64) float64 {
	tail := (1 + p) / 2
	if !limited(dof) {
		return distuv.UnitNormal.Quantile(tail)
	}
	return distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(tail)
}

func limited(dof float64) bool { return dof > 0 && !math.IsInf(dof, 1) }

// CoverageFactor returns the k of the expanded uncertainty: K, or where degrees of
// freedom are few the factor that holds as much, 95.45 %, of Student's t. Degrees
// of freedom are cut to a whole number first (JCGM 100:2008, G.4.1).
func (s Standard) CoverageFactor() float64 {
	if !limited(s.DoF) {
		return K
	}
	whole := math.Floor(s.DoF * (1 + 1e-12)) // 15.999999999999998 is 16
	return max(K, Coverage(Confidence, max(1, whole)))
}

// Expanded returns the expanded uncertainty, k u.
func (s Standard) Expanded() float64 { return s.CoverageFactor() * s.U }

// Below returns the probability that the true value lies below the estimate plus
// d: of the normal distribution, or of Student's t where degrees of freedom are
// few (JCGM 100:2008, G.3.2). U must be above zero.
func (s Standard) Below(d float64) float64 {
	if !limited(s.DoF) {
		return distuv.UnitNormal.CDF(d / s.U)
	}
	return distuv.StudentsT{Sigma: 1, Nu: s.DoF}.CDF(d / s.U)
}
