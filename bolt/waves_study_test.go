//go:build study

package bolt

import (
	"fmt"
	"testing"

	"spotface/mesh/scansim"
	"spotface/mesh/scansim/trials"
)

// What a face shows of its noise, and what that says of how holes are moved.
func TestStudyWavesOfAFace(t *testing.T) {
	faces := trials.Asked(200)
	tab := trials.Table{
		Title: "Waves that a face shows",
		About: "Faces of 2,200 points on 80 x 80 mm: of how many the noise is seen to be shared by neighbours, and what\n" +
			"that moves the centres of circles of radius 2, 4 and 8 mm by, in variance, over the truth.\n\n" +
			"    go test -tags study -run StudyWavesOfAFace -timeout 0 ./bolt",
		Head: []string{"noise", "seen", "of", "2 mm", "4 mm", "8 mm"},
	}
	for _, row := range []struct {
		name   string
		kernel scansim.Kernel
	}{
		{"white", scansim.Kernel{}}, {"normal, 2 mm", scansim.Kernel{Shape: scansim.Gaussian, Length: 2}},
		{"exponential, 4 mm", scansim.Kernel{Length: 4}}, {"nine tenths white, 1.45 mm", scansim.Kernel{Length: 1.45, White: 0.9}},
		{"nine tenths white, 4 mm", scansim.Kernel{Length: 4, White: 0.9}},
	} {
		seen := facePart(t, row.kernel).drawWaves(t, faces, 0)
		cells := []string{row.name, fmt.Sprint(len(seen)), fmt.Sprint(faces)}
		for _, r := range []float64{2, 4, 8} {
			if row.kernel.Length == 0 || len(seen) == 0 {
				cells = append(cells, "")
			} else {
				cells = append(cells, fmt.Sprintf("%.2f", meanMoved(seen, r, row.kernel)))
			}
		}
		tab.Rows = append(tab.Rows, cells)
	}
	tab.Write(t, "..", "waves-of-a-face")
}
