//go:build study

package batch

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"spotface/mesh/scansim/trials"
)

// How well the spread of values is divided into that of the parts and that of measuring, how
// often intervals hold the truth, and how often a chart of a steady process is called
// unsteady.
func TestStudyBatch(t *testing.T) {
	n := trials.Asked(20_000)
	rng := rand.New(rand.NewPCG(18, 99))
	percent := func(k int) string { return fmt.Sprintf("%.1f", 100*float64(k)/float64(n)) }
	low, high := -4.0, 5.0
	var rows [][]string
	for _, parts := range []int{25, 100, 300} {
		x, y := make([]float64, parts), make([]float64, parts)
		for _, measuring := range []float64{0, 0.3, 0.7, 1, 2, 4} {
			var sum, shares float64
			var parted, cp, cpk, trend, unsteady int
			spread := math.Hypot(1, measuring)
			for range n {
				for i := range y {
					x[i], y[i] = float64(i), rng.NormFloat64()+measuring*rng.NormFloat64()
				}
				mean, sd := stat.MeanStdDev(y, nil)
				s := split(sd, parts, measuring*measuring)
				sum += s.Part / float64(n)
				shares += s.Share / float64(n)
				in := func(i Interval, truth float64) int {
					if i.Low <= truth && truth <= i.High {
						return 1
					}
					return 0
				}
				parted += in(s.PartInterval, 1)
				c := capability(mean, sd, parts, &low, &high)
				cp += in(*c.CpInterval, 1.5/spread)
				cpk += in(c.CpkInterval, 4/(3*spread))
				if tr := fitLine(x, y).over(parts); math.Abs(tr.Change) <= tr.Uncertainty {
					trend++
				}
				if !newChart(y).Steady {
					unsteady++
				}
			}
			rows = append(rows, []string{fmt.Sprint(parts), fmt.Sprint(measuring),
				fmt.Sprintf("%+.1f", 100*(sum-1)/spread),
				fmt.Sprintf("%+.1f", 100*(shares-measuring*measuring/(spread*spread))),
				percent(parted), percent(cp), percent(cpk), percent(trend), percent(unsteady)})
		}
	}
	trials.Table{
		Title: "What a batch tells of parts, capability, trend",
		About: fmt.Sprintf("Parts have a standard deviation of 1; measuring adds that of the second column, which is\n"+
			"stated rightly. Bias of the parts' standard deviation, in %% of the spread of the values, and of\n"+
			"the share that measuring makes, in %% of the variance; how often 95 %% intervals hold the truth;\n"+
			"and how often a steady process is called unsteady, in %%. %d batches a row. Where measuring makes\n"+
			"most of the spread, few parts do not tell their own: the interval says so, the figure is cut at\n"+
			"zero and so is low on average.\n\n"+
			"    go test -tags study -run StudyBatch -timeout 0 ./report/batch", n),
		Head: []string{"parts", "measuring", "bias, parts", "bias, share", "parts' interval", "Cp", "Cpk",
			"trend", "unsteady"},
		Rows: rows,
	}.Write(t, "../..", "batch")
}
