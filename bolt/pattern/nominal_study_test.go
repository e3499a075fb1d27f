//go:build study

package pattern

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"spotface/mesh/scansim/trials"
)

// How often readings of rings are right, by the probability that they are stated with; of
// easy rings, how often wrong and in doubt.
func TestStudyNominal(t *testing.T) {
	n := trials.Asked(10000)
	tab := trials.Table{
		Title: "Naming the nominal",
		About: "Rings of another distribution than the prior of pattern.Readings: see draw. Easy: all other readings differ by\n" +
			"more than five expanded uncertainties (k = 2, drilling and measurement together). Any difficulty: drilling errors\n" +
			"from 0.03 to 2.7 mm, then 3 to 6 positions and 0.3 mm or more until each range of probabilities has its statements.\n" +
			"Other rings: errors of normal density, steps of 25 or 35 degrees, one in ten of no pattern.\n\n    go test -tags study -run StudyNominal -timeout 0 ./bolt/pattern",
		Head: []string{"what", "of", "stated", "right"},
	}
	row := func(what string, n int, stated, right string) {
		tab.Rows = append(tab.Rows, []string{what, fmt.Sprint(n), stated, right})
		t.Log(what, n, stated, right)
	}
	wrong, doubt, all := named(t, 7, n)
	row("easy: wrong", all, "", fmt.Sprint(wrong))
	row("easy: in doubt", all, "", fmt.Sprint(doubt))
	for _, w := range []struct {
		what string
		draw
		each int
		seed uint64
	}{{"any difficulty", someRings, n / 4, 50}, {"other rings, any difficulty", otherRings, n / 20, 90}} {
		var bins [8]stated
		least := func() int {
			return slices.MinFunc(bins[:], func(a, b stated) int { return cmp.Compare(a.n, b.n) }).n
		}
		for k := uint64(0); least() < w.each; k += 2 {
			var both [2][8]stated
			var wait sync.WaitGroup
			for i := range both {
				wait.Go(func() { both[i] = w.statements(t, w.seed<<32+k+uint64(i), n/2, k > 0) })
			}
			wait.Wait()
			for i := range bins {
				bins[i] = bins[i].and(both[0][i]).and(both[1][i])
			}
		}
		for _, b := range bins {
			row(w.what, b.n, fmt.Sprintf("%.1f %%", 100*b.sum/float64(b.n)), fmt.Sprintf("%.1f %%", 100*float64(b.right)/float64(b.n)))
		}
	}
	tab.Write(t, "../..", "nominal")
}

// What is found in layouts put anywhere, and in rectangles.
func TestStudySearch(t *testing.T) {
	n := trials.Asked(10000)
	tab := trials.Table{
		Title: "Patterns found where there are none",
		About: "Layouts: 3 to 8 holes anywhere on 150 by 150 mm; rectangles from 15 to 115 mm whose sides differ by 1.5 mm or more.\n\n" +
			"    go test -tags study -run StudySearch -timeout 0 ./bolt/pattern",
		Head: []string{"what", "of", "called so"},
	}
	row := func(what string, called int) {
		tab.Rows = append(tab.Rows, []string{what, fmt.Sprint(n), fmt.Sprint(called)})
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
	row("layouts: called a bolt circle", rings)
	row("layouts: called a grid, rectangle or line", grids)
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
	row("rectangles: called a bolt circle", called)
	tab.Write(t, "../..", "search")
}
