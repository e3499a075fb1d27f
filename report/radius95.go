package report

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Coverage is the factor k of a scalar's expanded uncertainty, U = k u, which
// holds the value with about 95 % (JCGM 100:2008, 6.3.3).
const Coverage = 2

// CoverageCentre is the factor of a centre that is equally sure in both
// directions, sqrt(-2 ln 0.05) = 2.4477.
const CoverageCentre = 2.45

// OneSide is what lies below k = 2 of a normal distribution, 97.72 %: a guard band
// of it leaves 2.28 % for either mistake (JCGM 106:2012, 8.3.2).
const OneSide = 0.977249868051820792799717362833466562528

// radius95 returns the radius of the circle about a measured centre that holds
// the true one with 95 %, for a normal distribution of covariance c, mm². It
// is 2.4477 s for equal variances s² and 1.9600 s where one of them is zero.
// It returns 0 where c is not a covariance.
//
// With the standard deviations s1, s2 along the main axes and the polar form of
// the standard normal distribution,
//
//	P(R) = 1/2π ∫ 1 - exp(-R² / 2(s1² cos²t + s2² sin²t)) dt
//
// which the trapezium rule integrates to rounding over a period; R by Newton's
// method, from between those two.
func radius95(c [2][2]float64) float64 {
	mean := (c[0][0] + c[1][1]) / 2
	v1 := mean + math.Hypot((c[0][0]-c[1][1])/2, c[0][1])
	v2 := max(2*mean-v1, 0)
	if !(v1 > 0) || math.IsInf(v1, 0) {
		return 0
	}
	const steps = 128 // over a quarter period
	var v [steps]float64
	for i := range v {
		sin, cos := math.Sincos((float64(i) + 0.5) * math.Pi / 2 / steps)
		v[i] = v1*cos*cos + v2*sin*sin
	}
	s := math.Sqrt(v1)
	r := s * (1.96 + 0.4877*v2/v1)
	for range 20 {
		miss, slope := 0.05, 0.0
		for _, v := range v {
			beyond := math.Exp(-r*r/(2*v)) / steps
			miss -= beyond
			slope += r / v * beyond
		}
		step := miss / slope // of P - 0.95
		r = min(max(r-step, 1.9*s), 2.5*s)
		if math.Abs(step) < 1e-13*s {
			break
		}
	}
	return r
}

// studentRadius95 is radius95 of a centre that has the distribution of Student with
// covariance c and ν = dof degrees of freedom, 0 standing for the normal one:
// wider by the factor that is right for equal variances, where
//
//	R² = s² (ν-2) (0.05^(-2/ν) - 1)
//
// by the distribution function of F with 2 and ν degrees of freedom, s²(ν-2)/ν
// being the scale of variance s².
func studentRadius95(c [2][2]float64, dof float64) float64 {
	r := radius95(c)
	if dof <= 0 {
		return r
	}
	return r * math.Sqrt((dof-2)*math.Expm1(-2/dof*math.Log(0.05))/(-2*math.Log(0.05)))
}

// ball95 returns the radius of the ball about a measured centre that holds the
// true one with about 95 %, from the covariance, mm², of its three coordinates,
// the first of c. The squared distance is a sum of three scaled χ² of one degree
// of freedom, taken for one of ν by its mean and variance (Satterthwaite,
// Biometrics Bulletin 2 (1946) 110-114):
//
//	R² = χ²(0.95, ν) tr C/ν,  ν = (tr C)²/tr C²
//
// which is exact for equal variances (2.7955 s). It returns 0 where c is not a
// covariance.
func ball95(c [6][6]float64) float64 {
	trace, square := 0.0, 0.0
	for i := range 3 {
		trace += c[i][i]
		for j := range 3 {
			square += c[i][j] * c[i][j]
		}
	}
	if !(trace > 0) || math.IsInf(trace, 0) {
		return 0
	}
	nu := trace * trace / square
	return math.Sqrt(distuv.ChiSquared{K: nu}.Quantile(0.95) * trace / nu)
}
