// Package budget does the arithmetic of an uncertainty budget as the GUM has it:
// what a source states becomes a standard uncertainty, standard uncertainties are
// propagated through a measurement's sensitivities and combined, and the coverage
// factor follows from the effective degrees of freedom.
//
// Units are the caller's; a sensitivity is in units of the result over units of
// its source.
//
// Source: JCGM 100:2008 (GUM), equations 10 and G.2b, by whose worked example
// H.1 it is tested, and by NIST TN 1900, example E13.
package budget

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Source is one line of a budget: an input that the result depends on, independent of the
// others.
type Source struct {
	Name  string
	Value float64 // its estimate
	Unit  string
	Standard
	Sensitivity float64 // change of the result for a unit of this source, ∂y/∂x
}

// Contribution is what the source puts into the result's standard uncertainty,
// |∂y/∂x| u(x).
func (s Source) Contribution() float64 { return math.Abs(s.Sensitivity) * s.U }

// Combined returns the standard uncertainty of the result (JCGM 100:2008, equation 10):
//
//	u² = Σ (ci u(xi))²
//
// and its effective degrees of freedom by Welch and Satterthwaite (G.2b):
//
//	ν = u⁴ / Σ (ci u(xi))⁴/νi
func Combined(sources []Source) Standard {
	variance, sum := 0.0, 0.0
	for _, s := range sources {
		variance += s.Contribution() * s.Contribution()
	}
	out := Standard{U: math.Sqrt(variance), Distribution: Normal}
	for _, s := range sources {
		if c := s.Contribution(); limited(s.DoF) && c > 0 {
			sum += math.Pow(c/out.U, 4) / s.DoF
		}
	}
	if sum > 0 {
		out.DoF = 1 / sum
	}
	return out
}

// Distribution is what is known of where a value lies about its estimate.
type Distribution string

// The distributions that the GUM's type B evaluation uses.
const (
	Normal      Distribution = "normal"
	Rectangular Distribution = "rectangular" // anywhere within the half-width alike
	Triangular  Distribution = "triangular"  // within the half-width, the middle likelier
	Arcsine     Distribution = "arcsine"     // swinging between the ends, U-shaped
)

// Standard is a standard uncertainty with what is known of it. Its unit is that
// of the estimate it belongs to.
type Standard struct {
	U            float64
	Distribution Distribution // empty: normal
	// DoF is how many degrees of freedom U has (GUM G.3, G.4); zero: so many
	// that they do not matter.
	DoF float64
}

// FromHalfWidth returns the standard uncertainty of a value that lies within a of
// its estimate, a at least 0, by JCGM 100:2008:
//
//	rectangular  a/√3  (4.3.7)
//	triangular   a/√6  (4.3.9)
//	arcsine      a/√2  (H.1.3.4)
//
// A normal distribution has no half-width: see FromExpanded.
func FromHalfWidth(a float64, d Distribution) (Standard, error) {
	by, ok := map[Distribution]float64{Rectangular: 3, Triangular: 6, Arcsine: 2}[d]
	if !ok {
		return Standard{}, fmt.Errorf("budget: a distribution %q has no half-width", d)
	}
	return Standard{U: a / math.Sqrt(by), Distribution: d}, nil
}

// FromExpanded returns the standard uncertainty behind an expanded one, U = k u
// (JCGM 100:2008, 4.3.3).
func FromExpanded(expanded, k float64) Standard {
	return Standard{U: expanded / k, Distribution: Normal}
}

// FromConfidence returns the standard uncertainty of a value that lies within a of
// its estimate with the confidence p, 0 to 1: normally distributed, or with dof
// above zero by Student's t (JCGM 100:2008, 4.3.4 and G.3.3).
func FromConfidence(a, p, dof float64) Standard {
	return Standard{U: a / Coverage(p, dof), Distribution: Normal, DoF: dof}
}

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
