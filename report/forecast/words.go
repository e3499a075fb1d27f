package forecast

import (
	"math"
	"strconv"

	"spotface/report/wording"
)

// digits prints v to two significant digits: 0.013, 1.3, 13, 130.
func digits(v float64) string {
	if v == 0 {
		return "0"
	}
	magnitude := int(math.Floor(math.Log10(math.Abs(v))))
	// What rounds up to the next power of ten has a digit less behind the point.
	if next := math.Pow(10, float64(magnitude+1)); math.Abs(v) >= next*0.995 {
		magnitude++
	}
	if d := 1 - magnitude; d > 0 {
		return strconv.FormatFloat(v, 'f', d, 64)
	}
	unit := math.Pow(10, float64(magnitude-1))
	return wording.Count(int(math.Round(v/unit) * unit))
}

// percent prints a share; what is not quite all or nothing does not look like it.
func percent(share float64) string {
	const rounding = 1e-9 // of a sum of shares
	p := math.Round(100 * share)
	switch {
	case p == 100 && share < 1-rounding:
		return ">99 %"
	case p == 0 && share > rounding:
		return "<1 %"
	}
	return strconv.Itoa(int(p)) + " %"
}
