package formed_test

import (
	"fmt"

	"spotface/mesh/scansim/formed"
)

// A kind's part of seed 1 has five holes of 7.6 mm.
func ExampleKinds() {
	k := formed.Kinds()[0]
	holes := k.Part(1).Holes
	fmt.Printf("%s: %d holes of %.1f mm\n", k.Name, len(holes), holes[0].Diameter)
	// Output: bowed ring: 5 holes of 7.6 mm
}
