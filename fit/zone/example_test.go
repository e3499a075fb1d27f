package zone_test

import (
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/fit/zone"
)

// What pin goes through a hole that is a little oval? The inscribed circle, not
// the least-squares one.
func ExampleCircle() {
	var xy []r3.Vector
	for i := range 90 {
		s, c := math.Sincos(float64(i) * 4 * math.Pi / 180)
		xy = append(xy, r3.Vector{X: 3.35 * c, Y: 3.30 * s})
	}
	pin, _, err := zone.Circle(xy, zone.Inscribed)
	if err != nil {
		fmt.Println(err)
		return
	}
	mean, _ := fit.Circle2DTo(xy, fit.Options{})
	_, round, _ := zone.Circle(xy, zone.Minimum)
	fmt.Printf("pin %.3f, least squares %.3f, roundness %.3f\n", 2*pin.Radius, 2*mean.Radius, round.Width)
	// Output: pin 6.600, least squares 6.650, roundness 0.050
}
