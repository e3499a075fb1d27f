package bolt

import (
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"

	"spotface/mesh/scansim"
)

// fewHoleRows are flanges of three or four holes, 240 degrees of each seen: least
// to learn the noise from.
func fewHoleRows() []coverRow {
	var out []coverRow
	for _, holes := range []int{3, 4} {
		row := coverRow{arc: 240 * s1.Degree, holes: holes, name: "white"}
		out = append(out, row)
		for _, l := range []struct {
			name string
			of   float64 // hole radius
		}{{"r*0.25", 0.25}, {"r*0.5", 0.5}} {
			mm := l.of * coverRadius
			row.name, row.kernel = "exponential "+l.name, scansim.Kernel{Length: mm}
			out = append(out, row)
			row.name, row.kernel = "normal "+l.name, scansim.Kernel{Shape: scansim.Gaussian, Length: mm}
			out = append(out, row)
			row.name, row.kernel = "two-scale "+l.name, scansim.Kernel{Length: mm / 4, Second: mm, SecondShare: 0.5}
			out = append(out, row)
		}
	}
	return out
}

// Few half-seen holes: their intervals hold too.
//
// 150 parts a row. The noise is learned once a part and the figures of a part hang
// together, so each row counts as 150 independent ones. At a true coverage of 93 %
// fewer than 123 of 150 (82 %) hold with a chance of 2e-6; 14 rows of 5 figures
// make less than 2e-4. Short runs have 40 parts of every other row: fewer than 27
// of 40 (67.5 %) with a chance of 3e-7, 7 rows of 5 figures.
func TestStatedIntervalsCoverFewHoles(t *testing.T) {
	for i, row := range fewHoleRows() {
		parts, least := 150, 122.5/150
		if testing.Short() {
			if parts, least = 40, 26.5/40; i%2 != 0 {
				continue
			}
		}
		t.Run(row.String(), func(t *testing.T) {
			got, _, _ := row.run(t, parts)
			assert.Zero(t, got.bad)
			for f := range coverFigures {
				assert.Greater(t, got.in[f]/got.all[f], least, coverNames[f])
			}
		})
	}
}
