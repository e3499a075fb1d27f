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
	for _, parts := range []int{10, 25, 100, 300} {
		x, y := make([]float64, parts), make([]float64, parts)
		for _, of := range [][2]float64{{1, 0}, {3, 1}, {1, 1}, {0.5, 1}, {0.3, 1}, {0, 1}} {
			part, measuring := of[0], of[1]
			var sum, shares float64
			var tooHigh, parted, cp, cpk, trend, unsteady int
			spread := math.Hypot(part, measuring)
			for range n {
				for i := range y {
					x[i], y[i] = float64(i), part*rng.NormFloat64()+measuring*rng.NormFloat64()
				}
				mean, sd := stat.MeanStdDev(y, nil)
				s := split(sd, parts, measuring*measuring)
				sum += s.Part / float64(n)
				shares += s.Share / float64(n)
				if s.Part > part {
					tooHigh++
				}
				in := func(i Interval, truth float64) int {
					if i.Low <= truth && truth <= i.High {
						return 1
					}
					return 0
				}
				parted += in(s.PartInterval, part)
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
			rows = append(rows, []string{fmt.Sprint(parts), fmt.Sprint(part), fmt.Sprint(measuring),
				fmt.Sprintf("%+.1f", 100*(sum-part)/spread),
				fmt.Sprintf("%+.1f", 100*(shares-measuring*measuring/(spread*spread))),
				percent(tooHigh), percent(parted), percent(cp), percent(cpk), percent(trend), percent(unsteady)})
		}
	}
	trials.Table{
		Title: "What a batch tells of parts, capability, trend",
		About: fmt.Sprintf("Parts have the standard deviation of the second column; measuring adds that of the third,\n"+
			"which is stated rightly. Bias of the mean of the parts' standard deviation, in %% of the spread of the values,\n"+
			"and of the share that measuring makes, in %% of the variance; how often the parts' figure is too\n"+
			"high (50 %%: its median has no bias) and 95 %% intervals hold the truth; and how often a steady\n"+
			"process is called unsteady, in %%. %d batches a row. Where measuring makes most of the spread, few\n"+
			"parts do not tell their own: the interval says so. No figure that is never negative can have a\n"+
			"mean without bias there: where parts have no spread, any that is not always zero is too high.\n\n"+
			"    go test -tags study -run StudyBatch -timeout 0 ./report/batch", n),
		Head: []string{"parts", "their spread", "measuring", "bias, parts", "bias, share", "too high", "parts' interval", "Cp", "Cpk",
			"trend", "unsteady"},
		Rows: rows,
	}.Write(t, "../..", "batch")
}
