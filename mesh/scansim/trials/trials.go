// Package trials computes the bounds of statistical tests.
//
// A test that counts or averages over random trials fails a right program now and
// then. Each bound here follows from the number of independent trials, what a right
// program does, and the false-alarm rate: the probability that a right program is
// outside the bound.
//
// Trials must be independent. Errors of the holes of one part are not: count the
// part as one trial, or state the effective number of trials and where it comes from.
//
// Sources: the tails of the binomial, chi-square and F distributions as in
// NIST/SEMATECH, e-Handbook of Statistical Methods, sections 1.3.6.6.18, 1.3.6.6.6
// and 1.3.6.6.5, https://doi.org/10.18434/M32189. It uses nothing of this module.
package trials

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rate is the false-alarm rate of one check where nothing else is said. A right
// program changes its random numbers some ten times a year, and a thousand such
// checks then raise one false alarm in ten years.
const Rate = 1e-5

// Of returns n, or with -short, as the race detector runs tests, the smaller number.
func Of(n, short int) int {
	if testing.Short() {
		return short
	}
	return n
}

// Least returns the largest k for which a right program, which succeeds in each of
// n trials with probability p, has fewer than k successes with probability of at
// most alpha. Fail the program if it has fewer than k.
func Least(n int, p, alpha float64) int {
	check(n, p, alpha)
	k := 0
	for k < n && below(n, k+1, p) <= alpha {
		k++
	}
	return k
}

// Most returns the smallest k for which a right program, in which an event has
// probability p in each of n trials, shows more than k events with probability of at
// most alpha. Fail the program if it shows more than k.
func Most(n int, p, alpha float64) int {
	return n - Least(n, 1-p, alpha)
}

// RMS returns the bounds of the root mean square of n independent normal errors, each
// divided by its true standard deviation: it is below low with probability alpha/2,
// and above high with probability alpha/2. n RMS² has the chi-square distribution
// with n degrees of freedom.
func RMS(n int, alpha float64) (low, high float64) {
	check(n, 0, alpha)
	chi2 := distuv.ChiSquared{K: float64(n)}
	return math.Sqrt(chi2.Quantile(alpha/2) / float64(n)),
		math.Sqrt(chi2.Quantile(1-alpha/2) / float64(n))
}

// RMSRatio returns the bounds of the ratio of two root mean squares, of n and of m
// independent normal errors of the same true standard deviation; all n+m are
// independent. The square of the ratio has the F distribution.
func RMSRatio(n, m int, alpha float64) (low, high float64) {
	check(n, 0, alpha)
	check(m, 0, alpha)
	f := distuv.F{D1: float64(n), D2: float64(m)}
	return math.Sqrt(f.Quantile(alpha / 2)), math.Sqrt(f.Quantile(1 - alpha/2))
}

// Mean returns the largest distance of the mean of n independent normal values from
// their true mean, in units of their true standard deviation; it is exceeded with
// probability alpha.
func Mean(n int, alpha float64) float64 {
	check(n, 0, alpha)
	return distuv.UnitNormal.Quantile(1-alpha/2) / math.Sqrt(float64(n))
}

// below is the probability of fewer than k successes in n trials.
func below(n, k int, p float64) float64 {
	return distuv.Binomial{N: float64(n), P: p}.CDF(float64(k - 1))
}

func check(n int, p, alpha float64) {
	if n < 1 || !(p >= 0 && p <= 1) || !(alpha > 0 && alpha < 1) {
		panic(fmt.Sprintf("trials: %d trials, probability %g, false-alarm rate %g", n, p, alpha))
	}
}
