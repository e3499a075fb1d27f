//go:build study

package report_test

import (
	"fmt"
	"math"
	"testing"

	"spotface/mesh/scansim/trials"
)

// Mean errors of holes in fused meshes, a third of each missing.
func TestStudyBias(t *testing.T) {
	parts := trials.Asked(500)
	tab := trials.Table{
		Title: "Bias of holes by rounded rims and by walls",
		About: "Errors in µm of diameters, and of centres toward the gap, in fused meshes of parts with four\n" +
			"holes; a third of each hole is missing, and by rims only nothing of the walls is seen.\n\n" +
			"    go test -tags study -run StudyBias -timeout 0 ./report",
		Head: []string{"by", "diameter, mean", "rms", "centre, mean", "rms each way", "found", "slots", "parts"},
	}
	for _, walls := range []bool{true, false} {
		var c bias
		for seed := range uint64(parts) {
			c.add(t, 1000+seed, walls)
		}
		n := float64(c.n)
		tab.Rows = append(tab.Rows, []string{map[bool]string{true: "walls", false: "rims"}[walls],
			fmt.Sprintf("%.1f", 1000*c.diameter/n), fmt.Sprintf("%.1f", 1000*math.Sqrt(c.square/n)),
			fmt.Sprintf("%.2f", 1000*c.centre()), fmt.Sprintf("%.1f", 1000*math.Sqrt(c.away/n/2)),
			fmt.Sprintf("%d of %d", c.n, c.holes), fmt.Sprint(c.slots), fmt.Sprint(parts)})
	}
	tab.Write(t, "..", "bias")
}
