package budget_test

import (
	"fmt"
	"log"

	"spotface/report/budget"
)

// A bore of 40 mm, scanned through a coat and checked by a caliper's maker's
// figure: what is its diameter worth?
func ExampleBudget_Combined() {
	coat, err := budget.FromHalfWidth(0.006, budget.Rectangular) // somewhere within ±0.006 mm
	if err != nil {
		log.Fatal(err)
	}
	b := budget.Budget{Sources: []budget.Source{
		{Name: "scan", Value: 39.984, Unit: "mm", Standard: budget.Standard{U: 0.006}, Sensitivity: 1},
		{Name: "coat", Value: 0.010, Unit: "mm", Standard: coat, Sensitivity: 2}, // a hole reads 2 t small
	}}
	u := b.Combined()
	fmt.Printf("diameter %.3f mm, u %.4f mm, +-%.3f mm with k = %.0f\n", 39.984+2*0.010, u.U, u.Expanded(), u.CoverageFactor())
	for i, share := range b.Shares() {
		fmt.Printf("%-4s %2.0f %%\n", b.Sources[i].Name, 100*share)
	}
	// Output:
	// diameter 40.004 mm, u 0.0092 mm, +-0.018 mm with k = 2
	// scan 43 %
	// coat 57 %
}

// Five readings of a caliper say how sure their mean is, with four degrees of
// freedom: the coverage factor grows from 2 to 2.87.
func ExampleFromReadings() {
	mean, u, err := budget.FromReadings([]float64{84.03, 84.05, 84.02, 84.04, 84.06})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.3f +-%.3f mm, k = %.2f\n", mean, u.Expanded(), u.CoverageFactor())
	// Output:
	// 84.040 +-0.020 mm, k = 2.87
}
