package budget

import "math"

// Source is one line of a budget: an input that the result depends on.
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

// Budget is what the uncertainty of one result is made of.
type Budget struct {
	Sources []Source
	// Correlation holds the correlation coefficients of the sources; nil means
	// that they are independent.
	Correlation [][]float64
}

// Combined returns the standard uncertainty of the result (JCGM 100:2008,
// equations 10 and 16):
//
//	u² = Σi Σj ci cj u(xi) u(xj) r(xi, xj)
//
// and its effective degrees of freedom by Welch and Satterthwaite (G.2b):
//
//	ν = u⁴ / Σ (ci u(xi))⁴/νi
//
// That formula wants independent sources; where they are correlated the least
// degrees of freedom of any source that matters are those of the result.
func (b Budget) Combined() Standard {
	variance := 0.0
	for i := range b.Sources {
		variance += b.covariance(i)
	}
	u := math.Sqrt(max(variance, 0))
	return Standard{U: u, Distribution: Normal, DoF: b.dof(u)}
}

// covariance is the part of the result's variance that source i brings, its
// correlation with the others included.
func (b Budget) covariance(i int) float64 {
	s := b.Sources[i]
	if b.Correlation == nil {
		return s.Contribution() * s.Contribution()
	}
	sum := 0.0
	for j, o := range b.Sources {
		sum += s.Sensitivity * s.U * o.Sensitivity * o.U * b.Correlation[i][j]
	}
	return sum
}

func (b Budget) dof(u float64) float64 {
	sum, least := 0.0, math.Inf(1)
	for _, s := range b.Sources {
		if c := s.Contribution(); limited(s.DoF) && c > 0 {
			sum += math.Pow(c/u, 4) / s.DoF
			least = min(least, s.DoF)
		}
	}
	switch {
	case sum == 0 || math.IsNaN(sum):
		return 0
	case b.Correlation != nil:
		return least
	}
	return 1 / sum
}

// Shares returns the share of the result's variance that each source brings, in
// their order; they add to 1. Where sources are correlated a share may be
// negative. They are nil where the result has no uncertainty.
func (b Budget) Shares() []float64 {
	u := b.Combined().U
	if !(u > 0) {
		return nil
	}
	out := make([]float64, len(b.Sources))
	for i := range out {
		out[i] = b.covariance(i) / (u * u)
	}
	return out
}
