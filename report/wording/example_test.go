package wording_test

import (
	"fmt"

	"spotface/report/wording"
)

func Example() {
	lower, upper := -0.1, 0.2
	fmt.Println(wording.Short(84.1000))
	fmt.Println(wording.Band(&lower, &upper))
	fmt.Println(wording.Band(nil, &upper))
	fmt.Println(wording.Count(1234567), wording.Count(-123))
	fmt.Println(wording.List([]string{"H1", "H2", "H5"}))
	// Output:
	// 84.1
	// -0.1 to +0.2
	// up to 0.2
	// 1,234,567 -123
	// H1, H2 and H5
}
