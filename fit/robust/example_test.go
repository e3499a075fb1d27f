package robust_test

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/fit/robust"
)

// A rim with a burr over a fifth of it.
func ExampleCircle2D() {
	var xy []r3.Vector
	for i := range 100 {
		s, c := math.Sincos(float64(i) * 3.6 * math.Pi / 180)
		r := 4 + 0.01*[]float64{1, -1, -1, 1, 1, -1, 1, -1}[i%8]
		if i < 20 {
			r += 0.3
		}
		xy = append(xy, r3.Vector{X: r * c, Y: r * s})
	}
	f, out, err := robust.Circle2D(xy, robust.Options{})
	plain, _ := fit.Circle2DTo(xy, fit.Options{})
	fmt.Printf("diameter %.2f, %d outliers, %v; with them %.2f\n", 2*f.Radius, out.Count, err, 2*plain.Radius)
	// Output: diameter 8.00, 20 outliers, <nil>; with them 8.12
}
