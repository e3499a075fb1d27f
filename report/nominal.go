package report

import "math"

// probableSize rounds a measured length, mm, with its expanded uncertainty, to
// the size that was probably meant: whole millimetres, halves, or tenths, where
// the measured one is near enough that chance does not make it so (a tenth of a
// whole millimetre, an eighth of a half, a third of a tenth); else to a
// hundredth. That drawings prefer such numbers is common practice, no source.
func probableSize(measured, expanded float64) float64 {
	reach := max(expanded, 0.05, measured/1000)
	for _, g := range []struct{ step, most float64 }{{1, 0.1}, {0.5, 0.06}, {0.1, 0.03}} {
		round := math.Round(measured/g.step) * g.step
		if round > 0 && math.Abs(measured-round) <= min(reach, g.most) {
			return tidy(round)
		}
	}
	return tidy(math.Round(measured*100) / 100)
}

// tidy drops the last digits that a sum of tenths leaves: 6.6000000000000005.
func tidy(v float64) float64 { return math.Round(v*1e6) / 1e6 }

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
