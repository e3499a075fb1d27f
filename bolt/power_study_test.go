//go:build study

package bolt

import (
	"fmt"
	"testing"

	"spotface/mesh/scansim/trials"
)

// How often one hole that is off is named, and how often one is named where none is.
func TestStudyPower(t *testing.T) {
	n := trials.Asked(2000)
	falsely, rightly := named(t, n)
	percent := func(k int) string { return fmt.Sprintf("%.2f", 100*float64(k)/float64(n)) }
	trials.Table{
		Title: "Finding one hole that is 0.02 mm off clock",
		About: "Six rims of 200 points with white noise of 0.03 mm on a pitch radius of 50 mm, and 2,200 points\n" +
			"of their face; in %. Asked: 98 named, 5 falsely.\n\n" +
			"    go test -tags study -run StudyPower -timeout 0 ./bolt",
		Head: []string{"named", "falsely named over regular patterns", "plates of each"},
		Rows: [][]string{{percent(rightly), percent(falsely), fmt.Sprint(n)}},
	}.Write(t, "..", "power")
}
