package batch

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Interval contains a value with 95 %.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// upper is the upper point of an interval of that confidence, both tails cut alike.
const upper = 1 - (1-confidence)/2

func studentT(dof int) distuv.StudentsT {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(dof)}
}

// meanU is half the interval of the mean of n values: t s/√n (e-Handbook 1.3.5.2).
func meanU(sd float64, n int) float64 {
	return studentT(n-1).Quantile(upper) * sd / math.Sqrt(float64(n))
}

// varianceInterval is the interval of the variance of normal values: (n-1)s²/χ²
// (e-Handbook 1.3.5.8, 7.2.3.1).
func varianceInterval(sd float64, n int) Interval {
	chi := distuv.ChiSquared{K: float64(n - 1)}
	ss := float64(n-1) * sd * sd
	return Interval{ss / chi.Quantile(upper), ss / chi.Quantile(1-upper)}
}

// fitted is a straight line through values, by least squares.
type fitted struct {
	slope, se float64 // se: standard error of the slope
	dof       int
}

// fitLine fits a straight line; there must be three values or more, not all at one x.
func fitLine(x, y []float64) fitted {
	alpha, beta := stat.LinearRegression(x, y, nil, false)
	n := len(x)
	mx := stat.Mean(x, nil)
	var sse, sxx float64
	for i := range x {
		r := y[i] - alpha - beta*x[i]
		sse += r * r
		sxx += (x[i] - mx) * (x[i] - mx)
	}
	return fitted{beta, math.Sqrt(sse / float64(n-2) / sxx), n - 2}
}

// over is the change over so many parts.
func (f fitted) over(parts int) *Trend {
	whole := float64(parts - 1)
	return &Trend{f.slope * whole, studentT(f.dof).Quantile(upper) * f.se * whole}
}

// Split divides the spread of the values into that of the parts and that of measuring them.
type Split struct {
	// Measuring is the standard deviation that measuring alone brings: the root mean
	// square of the stated standard uncertainties that change from scan to scan. What the
	// plan states of the scanner, and smoothing, move all scans alike and are not in it.
	Measuring float64 `json:"measuring"`
	// Share is that of the variance that measuring makes, 0 to 1.
	Share float64 `json:"share"`
	// Part is the standard deviation of the parts themselves, never below zero. It is as often
	// too high as too low (testdata/studies/batch.md).
	Part         float64  `json:"part"`
	PartInterval Interval `json:"part_interval"`
}

// split takes the standard deviation of n values, and their mean variance of measuring:
// σ² of the parts = σ² of the values - σ² of measuring, which is taken as known. For that of the
// values it takes the middle of its intervals, (n-1)s² over the median of χ²: what is cut at
// zero has no mean without bias, but that figure keeps its median.
func split(sd float64, n int, measuring float64) *Split {
	part := func(v float64) float64 { return math.Sqrt(max(v-measuring, 0)) }
	iv := varianceInterval(sd, n)
	k := float64(n - 1)
	middle := k * sd * sd / distuv.ChiSquared{K: k}.Quantile(0.5)
	return &Split{Measuring: math.Sqrt(measuring), Share: min(measuring/middle, 1),
		Part: part(middle), PartInterval: Interval{part(iv.Low), part(iv.High)}}
}

// Normality is the Anderson-Darling test of values whose mean and spread come from
// themselves.
type Normality struct {
	Statistic float64 `json:"statistic"` // corrected for the number of values
	Limit     float64 `json:"limit"`     // at 1 %
	Passes    bool    `json:"passes"`
}

func normality(y []float64, mean, sd float64) *Normality {
	n := float64(len(y))
	a := andersonDarling(y, distuv.Normal{Mu: mean, Sigma: sd}.CDF) * (1 + 0.75/n + 2.25/(n*n))
	return &Normality{Statistic: a, Limit: normalLimit, Passes: a <= normalLimit}
}

// andersonDarling is A² = -n - Σ (2i-1)/n [ln F(y_i) + ln(1 - F(y_n+1-i))], y ascending.
func andersonDarling(y []float64, cdf func(float64) float64) float64 {
	y = slices.Sorted(slices.Values(y))
	n := len(y)
	clip := func(p float64) float64 { return min(max(p, 1e-300), 1-1e-16) }
	sum := 0.0
	for i := range y {
		sum += float64(2*i+1) * (math.Log(clip(cdf(y[i]))) + math.Log1p(-clip(cdf(y[n-1-i]))))
	}
	return -float64(n) - sum/float64(n)
}

// Capability compares a band with the spread of the values, measuring included. Cp is
// nil where the band has one limit.
type Capability struct {
	Cp          *float64  `json:"cp,omitempty"`
	CpInterval  *Interval `json:"cp_interval,omitempty"`
	Cpk         float64   `json:"cpk"`
	CpkInterval Interval  `json:"cpk_interval"`
}

// capability of n normal values (e-Handbook 6.1.6): Cp = (U - L)/6s, exact interval by χ²;
// Cpk = min(U - mean, mean - L)/3s, interval ± z √(1/9n + Cpk²/2(n-1)).
func capability(mean, sd float64, n int, lower, higher *float64) *Capability {
	c := &Capability{Cpk: math.Inf(1)}
	if higher != nil {
		c.Cpk = (*higher - mean) / (3 * sd)
	}
	if lower != nil {
		c.Cpk = min(c.Cpk, (mean-*lower)/(3*sd))
	}
	if lower != nil && higher != nil {
		cp := (*higher - *lower) / (6 * sd)
		v := varianceInterval(1, n)
		c.Cp, c.CpInterval = &cp, &Interval{cp / math.Sqrt(v.High), cp / math.Sqrt(v.Low)}
	}
	half := distuv.UnitNormal.Quantile(upper) *
		math.Sqrt(1/(9*float64(n))+c.Cpk*c.Cpk/(2*float64(n-1)))
	c.CpkInterval = Interval{c.Cpk - half, c.Cpk + half}
	return c
}

// Share is that of the parts inside the band, as measured, with the exact interval of
// Clopper and Pearson for what further such parts would show.
type Share struct {
	Inside   int      `json:"inside"`
	Of       int      `json:"of"`
	Interval Interval `json:"interval"`
}

func shareOf(k, n int, level float64) *Share {
	s := &Share{Inside: k, Of: n, Interval: Interval{0, 1}}
	a := (1 - level) / 2
	if k > 0 {
		s.Interval.Low = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(a)
	}
	if k < n {
		s.Interval.High = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(1 - a)
	}
	return s
}
