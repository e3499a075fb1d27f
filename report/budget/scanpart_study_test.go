//go:build study

package budget

import (
	"fmt"
	"math"
	"testing"

	"spotface/mesh/scansim/trials"
)

// A scan's part of a budget as its inflated deviation with k = 2, by Welch and
// Satterthwaite from s and ν, and by both at once, beside another part that is known.
func TestStudyScanPart(t *testing.T) {
	n := trials.Asked(20000)
	tab := trials.Table{
		Title: "A scan's part of a budget: inflated deviation or degrees of freedom",
		About: "Errors beyond the expanded uncertainty, in % to either side; 2.28 is meant. Length is the mean\n" +
			"expanded uncertainty over that of the inflated deviation. The other part is in units of the scan's.\n\n" +
			"    go test -tags study -run StudyScanPart ./report/budget",
		Head: []string{"degrees of freedom", "other part", "inflated: above", "below",
			"Welch-Satterthwaite: above", "below", "length", "both: above", "below", "length", "trials"},
	}
	for _, dof := range []float64{4.5, 6, 12, 30} {
		for _, known := range []float64{0, 0.5, 1, 2} {
			inflate := math.Sqrt(dof / (dof - 2))
			plain := scanPart(n, dof, known, func(s float64) float64 { return scanBudget(s*inflate, 0, known) })
			formula := scanPart(n, dof, known, func(s float64) float64 { return scanBudget(s, dof, known) })
			both := scanPart(n, dof, known, func(s float64) float64 { return scanBudget(s*inflate, dof, known) })
			row := []string{fmt.Sprint(dof), fmt.Sprint(known)}
			for i, c := range []beyond{plain, formula, both} {
				row = append(row, fmt.Sprintf("%.2f", 100*float64(c.above)/float64(n)), fmt.Sprintf("%.2f", 100*float64(c.below)/float64(n)))
				if i > 0 {
					row = append(row, fmt.Sprintf("%.3f", c.length/plain.length))
				}
			}
			tab.Rows = append(tab.Rows, append(row, fmt.Sprint(n)))
		}
	}
	tab.Write(t, "../..", "scan-part")
}
