package budget

import "math"

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
