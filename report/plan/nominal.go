package plan

import (
	"fmt"
	"math"

	"spotface/bolt/sizes"
	"spotface/report/wording"
)

// probableSize is the size, mm, that was probably meant of a measured length: the most
// probable standard one if it is more probable than not, else, or if there is none, the
// measured one to a hundredth. The words say what size that is, how far from the measured
// one, and how probable.
func probableSize(list []sizes.Candidate, measured float64) (nominal float64, words string) {
	best := sizes.Best(list)
	if best.Diameter == 0 || !best.Likely() {
		return math.Round(measured*100) / 100, ", no clear standard size"
	}
	nominal = math.Round(best.Diameter*1000) / 1000
	if d := math.Round((measured-nominal)*1000) / 1000; d > 0 {
		words = fmt.Sprintf(", %s above %s", wording.Short(d), wording.Short(nominal))
	} else if d < 0 {
		words = fmt.Sprintf(", %s below %s", wording.Short(-d), wording.Short(nominal))
	}
	return nominal, fmt.Sprintf("%s: %s, %.0f %%", words, best.Uses(), 100*best.Probability)
}

// generalTolerance is the half-width, mm, that ISO 2768-1:1989, table 1, class m
// (medium) allows a length without a tolerance of its own. Below and beyond the
// table its first and last row serve.
func generalTolerance(length float64) float64 {
	for _, row := range []struct{ to, tolerance float64 }{
		{6, 0.1}, {30, 0.2}, {120, 0.3}, {400, 0.5}, {1000, 0.8}, {2000, 1.2},
	} {
		if length <= row.to {
			return row.tolerance
		}
	}
	return 2
}
