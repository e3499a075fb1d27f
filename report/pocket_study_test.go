//go:build study

package report_test

import (
	"fmt"
	"testing"

	"spotface/mesh/scansim/trials"
)

// How many corners of pockets pass for holes, and how many holes are not found.
func TestStudyPockets(t *testing.T) {
	n := trials.Asked(40)
	var seeds []uint64
	for i := range n {
		seeds = append(seeds, uint64(500+i))
	}
	invented, missed := pocketCorners(t, seeds...)
	trials.Table{
		Title: "Corners of pockets",
		About: "Fused scans of a plate with 7 pockets and 5 holes, noise 0.02 mm, 5 % missing.\n\n" +
			"    go test -tags study -run StudyPockets -timeout 0 ./report",
		Head: []string{"holes invented", "of pockets", "holes not found", "of holes", "scans"},
		Rows: [][]string{{fmt.Sprint(invented), fmt.Sprint(7 * n), fmt.Sprint(missed), fmt.Sprint(5 * n), fmt.Sprint(n)}},
	}.Write(t, "..", "pockets")
}
