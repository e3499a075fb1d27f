//go:build study

package form

import (
	"fmt"
	"testing"

	"spotface/mesh/scansim/trials"
)

// How often flatness and cylindricity hold the true form, in noise of many lengths.
func TestStudyForm(t *testing.T) {
	n := trials.Asked(200)
	tab := trials.Table{
		Title: "Form in noise that neighbours share",
		About: "How many of so many faces and bores hold the true form, with 0.02 mm of noise shared over a length.\n" +
			"Faces are rings of radius 20 to 60 mm, bowed by 0 and 0.1 mm; bores are of radius 20, oval by 0 and 0.05 mm\n" +
			"on the radius. A bow is found where the interval leaves out zero.\n\n" +
			"    go test -tags study -run StudyForm -timeout 0 ./fit/form",
		Head: []string{"surface", "length, mm", "perfect", "bowed or oval", "found", "of"},
	}
	for _, length := range []float64{0, 2, 4, 8, 12, 13, 20, 30, 40} {
		perfect, _ := perfectFaces(t, n, length)
		hold, found := bowedFaces(t, n, length)
		tab.Rows = append(tab.Rows, []string{"face", fmt.Sprint(length), fmt.Sprint(perfect), fmt.Sprint(hold), fmt.Sprint(found), fmt.Sprint(n)})
	}
	for _, height := range []float64{12, 40} {
		for _, length := range []float64{0, 5, 10, 15, 20, 22} {
			tab.Rows = append(tab.Rows, []string{fmt.Sprintf("bore %g mm deep", height), fmt.Sprint(length),
				fmt.Sprint(bores(t, n, 100, height, 0, length)), fmt.Sprint(bores(t, n, 1000, height, 0.05, length)), "", fmt.Sprint(n)})
		}
	}
	tab.Write(t, "../..", "form-in-noise")
}
