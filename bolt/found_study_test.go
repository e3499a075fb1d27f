//go:build study

package bolt

import (
	"fmt"
	"testing"

	"spotface/mesh/scansim/trials"
)

// Which holes are found, by what is seen of them.
func TestStudyFound(t *testing.T) {
	scans := trials.Asked(9)
	tab := trials.Table{
		Title: "Which holes are found",
		About: "Holes of 2, 4 and 9 mm at spacings of 0.15, 0.25 and 0.35 mm, of which an arc is seen, by walls and by rims;\n" +
			"wide gaps reach 0.6 radii out over the face, narrow ones 2.5 spacings.\n\n" +
			"    go test -tags study -run StudyFound -timeout 0 ./bolt",
		Head: []string{"scan", "diameter", "90 degrees", "120", "180", "360", "of each", "not there"},
	}
	for _, row := range shownRows() {
		for _, d := range []float64{2, 4, 9} {
			var all [4]int
			wrong := 0
			for seed := range uint64(scans) {
				found, other := row.found(t, 40+seed, 4, d)
				for k, n := range found {
					all[k] += n
				}
				wrong += other
			}
			tab.Rows = append(tab.Rows, []string{row.name, fmt.Sprintf("%g mm", d), fmt.Sprint(all[0]), fmt.Sprint(all[1]),
				fmt.Sprint(all[2]), fmt.Sprint(all[3]), fmt.Sprint(4 * scans), fmt.Sprint(wrong)})
		}
	}
	tab.Write(t, "..", "found")
}

// How many ends of slots and corners of pockets pass for holes.
func TestStudyEndsAndCorners(t *testing.T) {
	var seeds []uint64
	for i := range trials.Asked(20) {
		seeds = append(seeds, uint64(i))
	}
	wrong, all := endsAndCorners(t, seeds...)
	trials.Table{
		Title: "Ends of slots and corners of pockets that pass for holes",
		About: "Fused scans that show one end or corner alone, by its rim.\n\n" +
			"    go test -tags study -run StudyEndsAndCorners -timeout 0 ./bolt",
		Head: []string{"pass for a hole", "of"},
		Rows: [][]string{{fmt.Sprint(wrong), fmt.Sprint(all)}},
	}.Write(t, "..", "ends-and-corners")
}
