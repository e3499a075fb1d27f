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

// radius95 is ball95 of a centre in its face: of the circle that holds it. It is 2.4477 s for
// equal variances s², 1.9600 s where one of them is zero, and holds 95.13 % at most between.
func radius95(c [2][2]float64) float64 {
	return ball95([6][6]float64{{c[0][0], c[0][1]}, {c[1][0], c[1][1]}})
}

// studentRadius95 is radius95 of a centre that has the distribution of Student with
// covariance c and ν = dof degrees of freedom, 0 for the normal one: wider by the factor that
// is right for equal variances, where
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
// of freedom, treated as one of ν by its mean and variance (Satterthwaite,
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
