package sizes_test

import (
	"fmt"

	"spotface/bolt/sizes"
)

// A hole that reads 5.01 mm, known to 0.02 mm: is it plain, or will it be tapped?
func ExampleCandidates() {
	for _, c := range sizes.Candidates(sizes.Hole, 5.01, 0.02) {
		if c.Probability > 0.05 {
			fmt.Printf("%.2f %g: %v, %+.1f standard uncertainties off\n", c.Probability, c.Diameter, c, c.Off)
		}
	}
	// Output:
	// 0.61 5: whole millimetre (ISO 3 R10), +0.5 standard uncertainties off
	// 0.28 5: tapped M6 (drill of ISO 2306), +0.5 standard uncertainties off
	// 0.08 4.9784: clearance for #8 (ASME B18.2.8 normal), +1.6 standard uncertainties off
}

// A scan says 0.2655 wide holes about a bore of 1.2502, and no unit.
func ExampleReadUnits() {
	c := sizes.ReadUnits([]sizes.Feature{
		{Kind: sizes.Hole, Size: 0.2655, U: 0.0005},
		{Kind: sizes.Bore, Size: 1.2502, U: 0.0005}}, 4)
	fmt.Println("millimetres in doubt:", c.Doubt)
	fmt.Printf("%s: %v\n", c.Readings[0].Unit, c.Readings[0].Sizes[0].Serves[0])
	// Output:
	// millimetres in doubt: true
	// in: clearance for 1/4 in (ASME B18.2.8 close)
}
