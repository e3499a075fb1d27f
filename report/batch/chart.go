package batch

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Chart is a control chart of individual values in their order (e-Handbook 6.3.2.2): limits
// three standard deviations from the mean, the standard deviation from the mean difference
// of neighbours, so that a slow change does not widen them.
type Chart struct {
	Centre  float64  `json:"centre"`
	Lower   float64  `json:"lower"`
	Upper   float64  `json:"upper"`
	Signals []Signal `json:"signals,omitempty"`
	// Values are those of the chart, in the order of the parts that have one.
	Values []float64 `json:"-"`
	// Steady is false where a steady process would have so many signals in one of a
	// thousand such charts.
	Steady bool `json:"steady"`
}

// Signal is a value at which a rule says that the process has changed.
type Signal struct {
	Part string `json:"part"`
	Rule string `json:"rule"`
	At   int    `json:"-"` // its place in the chart's values
}

// perRange is the mean difference of two values in standard deviations, d2 of two as the
// handbook rounds it (e-Handbook 6.3.2).
const perRange = 1.128

// rules of the Western Electric handbook: so many of the last values on one side beyond so
// many standard deviations.
var rules = [...]struct {
	need, of int
	beyond   float64
	name     string
}{
	{1, 1, 3, "beyond 3 standard deviations"},
	{2, 3, 2, "2 of 3 beyond 2 standard deviations"},
	{4, 5, 1, "4 of 5 beyond 1 standard deviation"},
	{8, 8, 0, "8 in a row on one side"},
}

// newChart returns the chart of values in their order, not all alike.
func newChart(y []float64) *Chart {
	mean, ranges := stat.Mean(y, nil), 0.0
	for i := range y[1:] {
		ranges += math.Abs(y[i+1] - y[i])
	}
	sd := ranges / float64(len(y)-1) / perRange
	c := &Chart{Centre: mean, Lower: mean - 3*sd, Upper: mean + 3*sd, Signals: signals(y, mean, sd),
		Values: y}
	c.Steady = distuv.Poisson{Lambda: float64(len(y)) / perSignal}.
		CDF(float64(len(c.Signals))-1) < 1-steadyLevel
	return c
}

// signals applies the rules. After a signal they begin anew, as after a process that was
// looked at, so that one change is not signalled at every value that follows.
func signals(y []float64, mean, sd float64) []Signal {
	var out []Signal
	start := 0
	for i := range y {
		for _, r := range rules {
			above, below := 0, 0
			for k := max(start, i-r.of+1); k <= i; k++ {
				switch z := (y[k] - mean) / sd; {
				case z > r.beyond:
					above++
				case z < -r.beyond:
					below++
				}
			}
			z := (y[i] - mean) / sd
			if above >= r.need && z > r.beyond || below >= r.need && z < -r.beyond {
				out = append(out, Signal{Rule: r.name, At: i})
				start = i + 1
				break
			}
		}
	}
	return out
}
