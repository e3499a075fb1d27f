package trials

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Critical values of the sign test: the largest count of the rarer sign that is
// significant, two-sided at 1 %, 5 % and 10 %. W. J. Dixon and A. M. Mood, The
// statistical sign test, J. Am. Stat. Assoc. 41 (1946) 557-566, table 1; values from
// memory, recomputed by the exact sum.
func TestLeastIsTheSignTests(t *testing.T) {
	for n, critical := range map[int][3]int{
		10: {0, 1, 1}, 20: {3, 5, 5}, 30: {7, 9, 10}, 50: {15, 17, 18}, 90: {32, 35, 36},
	} {
		for i, level := range []float64{0.01, 0.05, 0.10} {
			// Least is the first count that is not significant.
			assert.Equal(t, critical[i]+1, Least(n, 0.5, level/2), "n = %d at %g", n, level)
			assert.Equal(t, n-critical[i]-1, Most(n, 0.5, level/2), "n = %d at %g", n, level)
		}
	}
}

// Least and Most are exact at their bound, and one further is beyond the rate.
func TestBoundsAreTight(t *testing.T) {
	for _, n := range []int{1, 7, 60, 1000} {
		for _, p := range []float64{0, 0.02, 0.5, 0.95, 1} {
			for _, alpha := range []float64{1e-6, 1e-3, 0.05} {
				k := Least(n, p, alpha)
				assert.LessOrEqual(t, exact(n, k, p), alpha*(1+1e-9), "n %d p %g alpha %g", n, p, alpha)
				if k < n {
					assert.Greater(t, exact(n, k+1, p), alpha*(1-1e-9), "n %d p %g alpha %g", n, p, alpha)
				}
				assert.Equal(t, n-k, Most(n, 1-p, alpha))
			}
		}
	}
	assert.Equal(t, 20, Least(20, 1, 1e-9), "what never fails may not fail")
	assert.Equal(t, 0, Most(20, 0, 1e-9), "what never happens may not happen")
}

// Critical values of chi-square at probabilities 0.999 and 0.001, NIST/SEMATECH
// e-Handbook of Statistical Methods, table 1.3.6.7.4; values from memory.
func TestRMSIsTheChiSquareTables(t *testing.T) {
	for n, table := range map[int][2]float64{10: {1.479, 29.588}, 100: {61.918, 149.449}} {
		low, high := RMS(n, 0.002)
		assert.InDelta(t, table[0], low*low*float64(n), 0.0005)
		assert.InDelta(t, table[1], high*high*float64(n), 0.0005)
	}
}

// Critical values of F at 5 %, one-sided (table 1.3.6.7.3), and of the normal
// distribution at 0.1 %, one-sided (table 1.3.6.7.1), of the same handbook; values from
// memory.
func TestRatiosAndMeansAreTheTables(t *testing.T) {
	_, high := RMSRatio(10, 20, 0.1)
	assert.InDelta(t, 2.348, high*high, 0.0005)
	low, _ := RMSRatio(20, 10, 0.1)
	assert.InDelta(t, 1/2.348, low*low, 0.0005)
	assert.InDelta(t, 3.090, Mean(11, 0.002)*math.Sqrt(11), 0.0005)
}

func TestWrongUseIsAProgrammingMistake(t *testing.T) {
	assert.Panics(t, func() { Least(0, 0.5, 0.01) })
	assert.Panics(t, func() { Least(3, 1.5, 0.01) })
	assert.Panics(t, func() { Most(3, math.NaN(), 0.01) })
	assert.Panics(t, func() { RMS(3, 0) })
}

// exact is below by the sum of its terms, in numbers of 200 bits.
func exact(n, k int, p float64) float64 {
	num := func(x float64) *big.Float { return new(big.Float).SetPrec(200).SetFloat64(x) }
	power := func(x *big.Float, m int) *big.Float {
		y := num(1)
		for range m {
			y.Mul(y, x)
		}
		return y
	}
	success := num(p)
	failure := num(1)
	failure.Sub(failure, success)
	sum := num(0)
	for i := range k {
		ways := new(big.Float).SetPrec(200).SetInt(new(big.Int).Binomial(int64(n), int64(i)))
		ways.Mul(ways, power(success, i))
		sum.Add(sum, ways.Mul(ways, power(failure, n-i)))
	}
	f, _ := sum.Float64()
	return f
}
