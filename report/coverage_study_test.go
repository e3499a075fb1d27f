//go:build study

package report_test

import (
	"fmt"
	"math"
	"testing"

	"spotface/mesh/scansim/trials"
)

// Coverage of all intervals of a report, on parts scanned in several ways.
func TestStudyCoverageThroughout(t *testing.T) {
	n := trials.Asked(250)
	tab := trials.Table{
		Title: "Coverage of the stated intervals, from points to report",
		About: "In %, of flanges of 3 to 8 holes that scatter about their pattern; in brackets the root mean square of\n" +
			"errors in halves of the interval (near 1.15 for centres and positions, which have two coordinates; else near 1).\n\n" +
			"    go test -tags study -run StudyCoverageThroughout -timeout 0 ./report",
		Head: []string{"scan", "parts"},
	}
	names := []string{"clocking", "spacing", "diameter", "centre", "position", "pitch",
		"bore-point", "bore-axis", "bore-diameter", "face-normal", "face-offset"}
	tab.Head = append(append(tab.Head, names...), "holes found", "invented", "bias of diameters, µm")
	row := func(name string, scanner wholeScanner, size float64) {
		var c wholeCount
		for seed := range uint64(n) {
			c.part(t, scanner, size, 1000+seed)
		}
		cells, figures := []string{name, fmt.Sprint(n)}, c.figures()
		for _, figure := range names {
			f := figures[figure]
			cells = append(cells, fmt.Sprintf("%.1f (%.2f)", f.percent(), math.Sqrt(f.z2/float64(f.all))))
		}
		tab.Rows = append(tab.Rows, append(cells, fmt.Sprintf("%d of %d", c.found, c.holes), fmt.Sprint(c.invented),
			fmt.Sprintf("%.1f", 1000*c.larger/float64(c.found))))
	}
	for _, scanner := range wholeScanners() {
		row(scanner.name, scanner, 1)
		if scanner.name == "fused" {
			row("fused, small", scanner, 0.6)
		}
	}
	tab.Write(t, "..", "coverage-throughout")
}
