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

// 500 errors, each divided by its stated standard uncertainty: the root mean square
// of a right program stays within these bounds in all but 1 of 1,000 runs.
func ExampleRMS() {
	low, high := trials.RMS(500, 1e-3)
	fmt.Printf("%.3f to %.3f\n", low, high)
	// Output: 0.897 to 1.105
}
