package budget_test

import (
	"fmt"
	"log"

	"spotface/report/budget"
)

// A bore of 40 mm, scanned through a coat and checked by a caliper's maker's
// figure: what is its diameter worth?
func ExampleCombined() {
	coat, err := budget.FromHalfWidth(0.006, budget.Rectangular) // somewhere within ±0.006 mm
	if err != nil {
		log.Fatal(err)
	}
	sources := []budget.Source{
		{Name: "scan", Value: 39.984, Unit: "mm", Standard: budget.Standard{U: 0.006}, Sensitivity: 1},
		{Name: "coat", Value: 0.010, Unit: "mm", Standard: coat, Sensitivity: 2}, // a hole reads 2 t small
	}
	u := budget.Combined(sources)
	fmt.Printf("diameter %.3f mm, u %.4f mm, +-%.3f mm with k = %.0f\n", 39.984+2*0.010, u.U, u.Expanded(), u.CoverageFactor())
	for _, s := range sources {
		share := s.Contribution() / u.U
		fmt.Printf("%-4s %2.0f %%\n", s.Name, 100*share*share)
	}
	// Output:
	// diameter 40.004 mm, u 0.0092 mm, +-0.018 mm with k = 2
	// scan 43 %
	// coat 57 %
}
