package budget

import (
	"fmt"
	"math"
)

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
