package segment

import (
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// coordinateRounding returns the largest error, mm, that writing numbers down
// has put on one coordinate of s: single precision in the file and again in
// the scan's offsets, and the decimals of a text file where those are coarser.
func coordinateRounding(s *mesh.Scan) float64 {
	const half = 1.0 / (1 << 24) // half a unit in the last place, relative, at most
	lo, hi := s.Bounds()
	greatest := func(v r3.Vector) float64 { return max(math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)) }
	single := half * (max(greatest(lo), greatest(hi)) +
		max(greatest(lo.Sub(s.Origin)), greatest(hi.Sub(s.Origin))))
	scale := 1.0
	if mm, err := s.Source.Unit.Millimetres(); err == nil {
		scale = mm
	}
	return single + scale*decimalRounding(s, scale, single/scale)
}

// decimalRounding returns half the last decimal that the file's numbers carry,
// in the file's unit, if all of them stop at one decimal place, or at six or
// fewer significant digits, and use the last digit in earnest; else 0. Numbers
// of a drawing (12.5, 40) stop early too but are exact: they use few of the
// ten last digits. slack is the single precision error of a number.
func decimalRounding(s *mesh.Scan, scale, slack float64) float64 {
	var x []float64
	for i := 0; i < s.Len(); i += max(1, s.Len()/decimalSample) {
		p := s.Point(i)
		for _, v := range [3]float64{p.X, p.Y, p.Z} {
			if v = math.Abs(v / scale); v > slack {
				x = append(x, v)
			}
		}
	}
	slices.Sort(x)
	x = slices.Compact(x)
	for k := range decimalPlaces + mostDigits - fewestDigits + 1 {
		unitOf := func(v float64) float64 {
			if k < decimalPlaces {
				return math.Pow(10, -float64(k))
			}
			return math.Pow(10, math.Floor(math.Log10(v))-float64(fewestDigits+k-decimalPlaces-1))
		}
		if lastDigitUsed(x, slack, unitOf) {
			return unitOf(x[len(x)-1]) / 2
		}
	}
	return 0
}

// lastDigitUsed reports whether every number is a multiple of its unit and the
// digit at that unit is spread as chance would spread it. Numbers whose unit
// lies below the slack tell nothing.
func lastDigitUsed(x []float64, slack float64, unitOf func(float64) float64) bool {
	var digit [10]int
	n, used := 0, 0
	for _, v := range x {
		u := unitOf(v)
		if slack > u/decimalSlack {
			continue
		}
		m := math.Round(v / u)
		if math.Abs(v/u-m) > decimalGain*slack/u+decimalGuard {
			return false
		}
		k := int(math.Mod(m, 10))
		if n++; digit[k] == 0 {
			used++
		}
		digit[k]++
	}
	return n >= max(decimalLeast, len(x)/decimalTold) && used >= digitsUsed && digit[0] < n/zerosFew
}
