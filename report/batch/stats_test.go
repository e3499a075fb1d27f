package batch

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/mesh/scansim/trials"
)

// NIST/SEMATECH e-Handbook, worked examples, from memory: 6.1.6 (limits 8 and 20, mean 16,
// standard deviation 2), 1.3.5.2 (heat flow meter, 195 values), 7.2.4.1 (4 of 20, 90 %).
func TestExamplesOfTheHandbook(t *testing.T) {
	low, high := 8.0, 20.0
	c := capability(16, 2, 50, &low, &high)
	assert.InDelta(t, 1.0, *c.Cp, 1e-12)
	assert.InDelta(t, 0.6667, c.Cpk, 5e-5)
	assert.InDelta(t, 1.3333, capability(16, 2, 50, &low, nil).Cpk, 5e-5, "lower")
	assert.InDelta(t, 0.6667, capability(16, 2, 50, nil, &high).Cpk, 5e-5, "upper")
	assert.Nil(t, capability(16, 2, 50, nil, &high).Cp)

	u := meanU(0.022789, 195)
	assert.InDelta(t, 9.258242, 9.261460-u, 1e-6)
	assert.InDelta(t, 9.264679, 9.261460+u, 1e-6)

	s := shareOf(4, 20, 0.90)
	assert.InDelta(t, 0.071354, s.Interval.Low, 1e-6)
	assert.InDelta(t, 0.401029, s.Interval.High, 1e-6)
	assert.Zero(t, shareOf(0, 20, 0.9).Interval.Low)
	assert.Equal(t, 1.0, shareOf(20, 20, 0.9).Interval.High)
}

// NIST Statistical Reference Datasets, Norris: data from memory, certified by that the
// certified digits come out of them.
func TestLineOfTheReferenceData(t *testing.T) {
	x := []float64{.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, .4, .6,
		775.5, 666.9, 338, 447.5, 11.6, 556, 228.1, 995.8, 887.6, 120.2, .3, .3, 556.8, 339.1, 887.2,
		999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, .5}
	y := []float64{.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3, .1,
		778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998, 888.8, 119.6, .3, .6, 557.6, 339.3, 888,
		998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, .2}
	f := fitLine(x, y)
	assert.InEpsilon(t, 1.00211681802045, f.slope, 1e-13)
	assert.InEpsilon(t, 0.429796848199937e-03, f.se, 1e-11)
	assert.Equal(t, 34, f.dof)
}

// The sum for A² against its definition, n ∫ (F_n - F)² / F(1-F) dF, by quadrature, on the
// weights of eleven men (Shapiro & Wilk, Biometrika 52, 1965; from memory).
func TestNormality(t *testing.T) {
	y := []float64{148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236}
	mean, sd := stat.MeanStdDev(y, nil)
	normal := distuv.Normal{Mu: mean, Sigma: sd}
	edges := []float64{0}
	for _, v := range y {
		edges = append(edges, normal.CDF(v))
	}
	edges = append(edges, 1)
	a := 0.0
	for i := range edges[1:] {
		empirical := float64(i) / float64(len(y))
		a += quad.Fixed(func(f float64) float64 {
			return float64(len(y)) * (empirical - f) * (empirical - f) / (f * (1 - f))
		}, edges[i], edges[i+1], 2000, nil, 0)
	}
	assert.InDelta(t, a, andersonDarling(y, normal.CDF), 1e-4)

	// Normal values fail at 1 %, at any number of them, and others often.
	rng := rand.New(rand.NewPCG(6, 1))
	n := trials.Of(4000, 1000)
	fails := map[int]int{}
	uniform := 0
	for range n {
		for _, of := range []int{leastNormal, 30, 200} {
			if !sampleOf(of, rng.NormFloat64).Passes {
				fails[of]++
			}
		}
		if !sampleOf(200, rng.Float64).Passes {
			uniform++
		}
	}
	for of, k := range fails {
		low, high := bounds(n, 0.01)
		assert.True(t, low <= k && k <= high, "%d of %d samples of %d fail", k, n, of)
	}
	assert.Greater(t, uniform, n*9/10)
}

func sampleOf(n int, draw func() float64) *Normality {
	y := make([]float64, n)
	for i := range y {
		y[i] = draw()
	}
	mean, sd := stat.MeanStdDev(y, nil)
	return normality(y, mean, sd)
}

// Parts with a spread of their own, measured with one of 1: the parts' comes out too high as
// often as too low, in any part of the values' spread. Where it is half of their variance or
// more, of 25 parts or more, its mean is within 2 % of the spread. Two bounds and an interval in
// each case, false-alarm rate trials.Rate each.
func TestSplitOfTheSpread(t *testing.T) {
	n := 10_000 // the mean of 25 parts is then known to 0.2 % of the spread
	rng := rand.New(rand.NewPCG(18, 2))
	for _, parts := range []int{10, 25, 100, 300} {
		chi := distuv.ChiSquared{K: float64(parts - 1), Src: rng}
		for _, part := range []float64{0, 0.3, 1, 3} {
			spread := math.Hypot(part, 1)
			high, covered, sum := 0, 0, 0.0
			for range n {
				s := split(spread*math.Sqrt(chi.Rand()/chi.K), parts, 1)
				sum += s.Part / float64(n)
				if s.Part > part {
					high++
				}
				if s.PartInterval.Low <= part && part <= s.PartInterval.High {
					covered++
				}
			}
			name := fmt.Sprintf("%d parts, of %.1f times the spread of measuring", parts, part)
			low, most := bounds(n, 0.5)
			assert.True(t, low <= high && high <= most, "%s: %d of %d too high", name, high, n)
			low, most = bounds(n, confidence)
			if part == 0 { // nothing is below zero: only the lower limit can miss
				low, most = bounds(n, (1+confidence)/2)
			}
			assert.True(t, low <= covered && covered <= most, "%s: %d of %d cover", name, covered, n)
			if parts >= 25 && part >= 1 {
				assert.InDelta(t, part, sum, 0.02*spread, name)
			}
		}
	}

	s := split(0.5, 100, 0.49)
	assert.Zero(t, s.Part, "never below zero")
	assert.Zero(t, s.PartInterval.Low)
	assert.Equal(t, 1.0, s.Share)
}

func TestIntervalsCover(t *testing.T) {
	n := trials.Of(2000, 500)
	rng := rand.New(rand.NewPCG(18, 3))
	low, high := -4.0, 5.0
	y, x := make([]float64, 60), make([]float64, 60)
	covered := map[string]int{}
	for range n {
		for i := range y {
			x[i], y[i] = float64(i), 0.02*float64(i-30)+rng.NormFloat64()
		}
		tr := fitLine(x, y).over(len(y))
		if math.Abs(tr.Change-0.02*59) <= tr.Uncertainty {
			covered["trend"]++
		}
		for i := range y {
			y[i] = rng.NormFloat64()
		}
		mean, sd := stat.MeanStdDev(y, nil)
		c := capability(mean, sd, len(y), &low, &high)
		for name, in := range map[string]struct {
			Interval
			truth float64
		}{"cp": {*c.CpInterval, 1.5}, "cpk": {c.CpkInterval, 4.0 / 3}} {
			if in.Low <= in.truth && in.truth <= in.High {
				covered[name]++
			}
		}
	}
	for name, k := range covered {
		low, high := bounds(n, confidence)
		assert.True(t, low <= k && k <= high, "%s: %d of %d intervals cover", name, k, n)
	}
	require.Len(t, covered, 3)
}

// The flow rates of ten batches (e-Handbook 6.3.2.2, from memory), with the limits printed
// there.
func TestChartOfTheHandbook(t *testing.T) {
	c := newChart([]float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1})
	assert.InDelta(t, 50.81, c.Centre, 5e-5)
	assert.InDelta(t, 55.8041, c.Upper, 5e-5)
	assert.InDelta(t, 45.8159, c.Lower, 5e-5)
	assert.Empty(t, c.Signals, "the handbook finds none outside")
	assert.True(t, c.Steady)
}

// Each rule where the Western Electric handbook (1956) and the e-Handbook, 6.3.2, have it;
// none a value earlier.
func TestRules(t *testing.T) {
	for name, c := range map[string]struct {
		y    []float64
		rule string
	}{
		"one far out":             {[]float64{0.5, -0.5, 3.1}, "beyond 3 standard deviations"},
		"two of three":            {[]float64{0.5, -2.1, 0.3, -2.1}, "2 of 3 beyond 2 standard deviations"},
		"two of three, one aside": {[]float64{2.1, -2.1, 2.1}, "2 of 3 beyond 2 standard deviations"},
		"four of five":            {[]float64{1.1, 1.2, -0.3, 1.1, 1.5}, "4 of 5 beyond 1 standard deviation"},
		"eight on one side":       {[]float64{.1, .2, .1, .3, .1, .2, .1, .1}, "8 in a row on one side"},
		"too far between":         {[]float64{2.1, 0.1, 0.1, 2.1, -.1, .1, 2.1}, ""},
		"on both sides":           {[]float64{1.1, -1.2, 1.1, -1.2, 1.1, -1.2, 1.1, -1.2}, ""},
	} {
		got := signals(c.y, 0, 1)
		if c.rule == "" {
			assert.Empty(t, got, name)
			continue
		}
		assert.Equal(t, []Signal{{Rule: c.rule, At: len(c.y) - 1}}, got, name)
	}
}

// In how many values a steady process signals: 91.75 (Champ & Woodall, Technometrics 29,
// 1987, from memory; e-Handbook 6.3.2 says the same).
func TestRunLength(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 4))
	y := make([]float64, trials.Of(400_000, 100_000))
	for i := range y {
		y[i] = rng.NormFloat64()
	}
	// A run's length has a standard deviation of about its mean.
	k := float64(len(signals(y, 0, 1)))
	assert.InDelta(t, perSignal, float64(len(y))/k, 3.5*perSignal/math.Sqrt(k))
}

// Of steady processes no more are called unsteady than stated. One whose later half lies 2.5
// standard deviations higher is called so in nine of ten batches at least. False-alarm rate:
// trials.Rate a bound.
func TestSteady(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 5))
	const n = 400
	var alarms, found int
	for range n {
		y := make([]float64, 100)
		for i := range y {
			y[i] = rng.NormFloat64()
		}
		if !newChart(y).Steady {
			alarms++
		}
		for i := range y[50:] {
			y[50+i] += 2.5
		}
		if !newChart(y).Steady {
			found++
		}
	}
	t.Logf("steady called unsteady: %d, shifted: %d of %d", alarms, found, n)
	assert.LessOrEqual(t, alarms, trials.Most(n, 0.001, trials.Rate))
	assert.GreaterOrEqual(t, found, trials.Least(n, 0.9, trials.Rate))
}

// bounds holds the count of n trials of probability p, but for two of trials.Rate.
func bounds(n int, p float64) (low, high int) {
	return trials.Least(n, p, trials.Rate), trials.Most(n, p, trials.Rate)
}
