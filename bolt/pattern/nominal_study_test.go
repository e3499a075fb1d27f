//go:build study

package pattern

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"spotface/mesh/scansim/trials"
)

// How often readings of rings are right, by the probability that they are stated with; of
// easy rings, how often wrong and in doubt; and what is found in layouts put anywhere.
func TestStudyNominal(t *testing.T) {
	n := trials.Asked(10000)
	tab := trials.Table{
		Title: "Naming the nominal",
		About: "Rings of another distribution than the prior of pattern.Readings: see draw. Easy: all other readings differ by\n" +
			"more than five expanded uncertainties (k = 2, drilling and measurement together). Any difficulty: drilling errors\n" +
			"from 0.03 to 2.7 mm. Layouts: 3 to 8 holes anywhere on 150 by 150 mm; rectangles from 15 to 115 mm whose sides\n" +
			"differ by 1.5 mm or more.\n\n    go test -tags study -run StudyNominal -timeout 0 ./bolt/pattern",
		Head: []string{"what", "of", "stated", "right"},
	}
	row := func(what string, n int, stated, right string) {
		tab.Rows = append(tab.Rows, []string{what, fmt.Sprint(n), stated, right})
	}
	wrong, doubt, all := named(t, 7, n)
	row("easy: wrong", all, "", fmt.Sprint(wrong))
	row("easy: in doubt", all, "", fmt.Sprint(doubt))
	var bins [8]stated
	for k := range uint64(2) {
		for i, b := range someRings.statements(t, 50+k, n) {
			bins[i].n, bins[i].right, bins[i].sum = bins[i].n+b.n, bins[i].right+b.right, bins[i].sum+b.sum
		}
	}
	for _, b := range bins {
		row("any difficulty", b.n, fmt.Sprintf("%.1f %%", 100*b.sum/float64(b.n)), fmt.Sprintf("%.1f %%", 100*float64(b.right)/float64(b.n)))
	}
	rng := rand.New(rand.NewPCG(11, 12))
	rings, grids := 0, 0
	for range n {
		ring, grid := false, false
		for _, f := range Search(features(0.01, 6, anywhere(rng, 3+rng.IntN(6))...)) {
			ring, grid = ring || f.Kind == Ring, grid || f.Kind != Ring
		}
		if ring {
			rings++
		}
		if grid {
			grids++
		}
	}
	row("layouts: called a bolt circle", n, "", fmt.Sprint(rings))
	row("layouts: called a grid, rectangle or line", n, "", fmt.Sprint(grids))
	called := 0
	for range n {
		a, b := 15+100*rng.Float64(), 15+100*rng.Float64()
		for math.Abs(a-b) < 1.5 {
			b = 15 + 100*rng.Float64()
		}
		xy := onGrid(2, 2, a, b)
		for i := range xy {
			xy[i][0] += 0.1 * rng.NormFloat64()
			xy[i][1] += 0.1 * rng.NormFloat64()
		}
		for _, f := range Search(features(0.01, 6, xy...)) {
			if f.Kind == Ring {
				called++
			}
		}
	}
	row("rectangles: called a bolt circle", n, "", fmt.Sprint(called))
	tab.Write(t, "../..", "nominal")
}
