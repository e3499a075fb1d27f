package report

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
)

// The ball of three equal variances has the 95 % point of χ² with 3 degrees of
// freedom, 7.815 in the usual tables; one of a single direction is 1.960 s. An
// elongated one holds 95 % of 40,000 draws: standard deviation 0.109 %, bound 3.5
// of them plus the 0.5 % that matching two moments may be off.
func TestBall95(t *testing.T) {
	diagonal := func(x, y, z float64) (c [6][6]float64) {
		c[0][0], c[1][1], c[2][2], c[3][3] = x*x, y*y, z*z, 9
		return c
	}
	assert.InDelta(t, 7.815, math.Pow(ball95(diagonal(1, 1, 1)), 2), 5e-4)
	assert.InDelta(t, 0.02*1.959964, ball95(diagonal(0, 0.02, 0)), 1e-7)
	assert.Zero(t, ball95(diagonal(0, 0, 0)))
	assert.Zero(t, ball95(diagonal(math.NaN(), 1, 1)))
	assert.Zero(t, ball95(diagonal(math.Inf(1), 1, 1)))

	r := ball95(diagonal(1, 0.5, 0.3))
	rng := rand.New(rand.NewPCG(6, 2))
	in := 0
	for range 40000 {
		x, y, z := rng.NormFloat64(), 0.5*rng.NormFloat64(), 0.3*rng.NormFloat64()
		if x*x+y*y+z*z <= r*r {
			in++
		}
	}
	assert.InDelta(t, 0.95, float64(in)/40000, 0.0089)
}

// The circle of a Student's distribution holds 95 % of 40,000 draws from it, of the
// stated covariance: standard deviation 0.109 %, bound 3.5 of them.
func TestStudentRadius95(t *testing.T) {
	c := [2][2]float64{{0.04, 0}, {0, 0.04}}
	assert.InDelta(t, radius95(c), studentRadius95(c, 0), 1e-15)
	assert.InDelta(t, radius95(c), studentRadius95(c, 1e7), 1e-6)
	for _, dof := range []float64{5, 9, 30} {
		r := studentRadius95(c, dof)
		rng := rand.New(rand.NewPCG(9, uint64(dof)))
		chi2 := distuv.ChiSquared{K: dof, Src: rng}
		in := 0
		for range 40000 {
			s := 0.2 * math.Sqrt((dof-2)/chi2.Rand())
			if math.Hypot(s*rng.NormFloat64(), s*rng.NormFloat64()) <= r {
				in++
			}
		}
		assert.InDelta(t, 0.95, float64(in)/40000, 0.0038, dof)
	}
}

func TestRadius95(t *testing.T) {
	// Equal variances: the Rayleigh distribution, R = s sqrt(-2 ln 0.05).
	assert.InDelta(t, 0.03*math.Sqrt(-2*math.Log(0.05)), radius95([2][2]float64{{9e-4, 0}, {0, 9e-4}}), 1e-12)
	// One direction only: Student's t for infinite degrees of freedom, 95 %
	// (GUM table G.2: 1.960).
	assert.InDelta(t, 1.959964, radius95([2][2]float64{{1, 0}, {0, 0}}), 2e-6)
	assert.Zero(t, radius95([2][2]float64{}))
	assert.Zero(t, radius95([2][2]float64{{math.NaN(), 0}, {0, 1}}))
	assert.Zero(t, radius95([2][2]float64{{math.Inf(1), 0}, {0, 1}}))

	// A turned, elongated one holds 95 % of 40,000 draws: standard deviation
	// 0.109 %, bound 3.5 of them, false alarm 5e-4.
	const s1, s2, angle = 1.0, 0.4, 0.7
	c, s := math.Cos(angle), math.Sin(angle)
	cov := [2][2]float64{
		{s1*s1*c*c + s2*s2*s*s, (s1*s1 - s2*s2) * c * s},
		{(s1*s1 - s2*s2) * c * s, s1*s1*s*s + s2*s2*c*c},
	}
	r := radius95(cov)
	rng := rand.New(rand.NewPCG(5, 2))
	in := 0
	for range 40000 {
		a, b := s1*rng.NormFloat64(), s2*rng.NormFloat64()
		if math.Hypot(c*a-s*b, s*a+c*b) <= r {
			in++
		}
	}
	assert.InDelta(t, 0.95, float64(in)/40000, 0.0039)
}
