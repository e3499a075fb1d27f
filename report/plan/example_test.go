package plan_test

import (
	"fmt"

	"spotface/report/plan"
)

// A plan with a typo is refused by line and column.
func ExampleParse() {
	_, err := plan.Parse("port.yaml", []byte(`bolt_circles:
  - id: B1
    count: 6
    pich_diameter: {nominal: 84}
`))
	fmt.Println(err)
	// Output:
	// port.yaml: line 4, column 5: unknown key "pich_diameter" in bolt_circles: did you mean "pitch_diameter"?
}
