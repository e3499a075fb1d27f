package trials_test

import (
	"fmt"

	"spotface/mesh/scansim/trials"
)

// Intervals are said to hold the truth in 95 % of parts. 60 parts are simulated, and
// the test fails a right program once in 1,000.
func ExampleLeast() {
	fmt.Printf("at least %d of 60\n", trials.Least(60, 0.95, 1e-3))
	// Output: at least 51 of 60
}

// The same claim, against a program whose intervals hold the truth in 70 % of parts
// only: how many parts find it out 99 times in 100?
func ExampleFewest() {
	n, least := trials.Fewest(0.95, 0.70, 1e-3, 0.01)
	fmt.Printf("%d parts, at least %d\n", n, least)
	// Output: 58 parts, at least 49
}

// 500 errors, each divided by its stated standard uncertainty: the root mean square
// of a right program stays within these bounds in all but 1 of 1,000 runs.
func ExampleRMS() {
	low, high := trials.RMS(500, 1e-3)
	fmt.Printf("%.3f to %.3f\n", low, high)
	// Output: 0.897 to 1.105
}
