//go:build study

package segment_test

import (
	"fmt"
	"strings"
	"testing"

	"spotface/mesh/scansim/formed"
	"spotface/mesh/scansim/trials"
)

// TestStudyForm counts what is found of parts with form.
func TestStudyForm(t *testing.T) {
	seeds := trials.Asked(20)
	tab := trials.Table{
		Title: "Surfaces of parts with form",
		About: "Parts with form as formed.Kinds has them, each scanned as a mesh and as a cloud with the seeds from 0:\n" +
			"true faces found, of those that have 150 triangles or points; surfaces invented, second ones of one face\n" +
			"among them; surfaces of a wrong kind; scans in which all is right.\n\n" +
			"    go test -tags study -run StudyForm -timeout 0 ./fit/segment",
		Head: []string{"part", "scan", "scans", "all right", "faces found", "of", "invented", "wrong kind"},
	}
	for _, k := range formed.Kinds() {
		for _, scan := range []string{"mesh", "cloud"} {
			var right, found, faces, invented, wrongKind int
			for seed := range uint64(seeds) {
				s, tr, seg := formScan(t, k, scan == "cloud", seed)
				r := scoreOf(s, &tr, seg, 0)
				found += r.found
				faces += r.faces
				for _, w := range r.wrong {
					if strings.Contains(w, "points) on ") { // of another kind than the face it is on
						wrongKind++
					} else {
						invented++
					}
				}
				if len(r.missing)+len(r.wrong) == 0 {
					right++
				} else {
					t.Logf("%s, %s, seed %d: missing %q, wrong %q", k.Name, scan, seed, r.missing, r.wrong)
				}
			}
			row := []string{k.Name, scan}
			for _, n := range []int{seeds, right, found, faces, invented, wrongKind} {
				row = append(row, fmt.Sprint(n))
			}
			tab.Rows = append(tab.Rows, row)
		}
	}
	tab.Write(t, "../..", "form")
}
