package bolt

import (
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"

	"spotface/mesh/scansim"
)

// At a quarter of the radius, on whole rims, intervals hold and are little longer
// than those of one who knows the noise; without a model of the noise they hold
// 39 % of the time.
//
// 400 parts a row. All figures of a part together count as one trial: at a true
// coverage of 94 % fewer than 353 of 400 (88.3 %) hold with a chance of 5e-6, 15
// figures. The study's mean lengths are 1.094, 1.054 and 1.111, of diameters 1.137,
// 1.060 and 1.148; a part's length scatters by some 15 %, a mean's by 0.8 %, and
// the bounds are 4.5 of these above: 3e-6 each. Short runs have 100 parts: fewer
// than 82 hold with a chance of 7e-6, and the bounds are 9 hundredths above.
func TestIntervalsAtAQuarterOfTheRadius(t *testing.T) {
	const mm = coverRadius / 4
	for _, c := range []struct {
		name             string
		kernel           scansim.Kernel
		length, diameter float64 // mean, over that of one who knows
	}{
		{"exponential r*0.25", scansim.Kernel{Length: mm}, 1.094, 1.137},
		{"normal r*0.25", scansim.Kernel{Shape: scansim.Gaussian, Length: mm}, 1.054, 1.060},
		{"two-scale r*0.25", scansim.Kernel{Length: mm / 4, Second: mm, SecondShare: 0.5}, 1.111, 1.148},
	} {
		parts, least, above := 400, 352.5/400, 0.036
		if testing.Short() {
			parts, least, above = 100, 0.815, 0.09
		}
		t.Run(c.name, func(t *testing.T) {
			got, best, _ := coverRow{name: c.name, kernel: c.kernel, arc: 360 * s1.Degree, holes: 6}.run(t, parts)
			assert.Zero(t, got.bad)
			for f := range coverFigures {
				assert.Greater(t, got.in[f]/got.all[f], least, coverNames[f])
				mean := c.length
				if coverNames[f] == "diameter" {
					mean = c.diameter
				}
				assert.Less(t, ratio(got, best, f), mean+above, coverNames[f])
			}
		})
	}
}
