package fit_test

import (
	"errors"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// boreWall is a made-up wall of a hole: radius 3.3, 5 deep, axis along Z, its
// points off by 0.01 in turn, seen over the given degrees.
func boreWall(x, y, degrees float64) []r3.Vector {
	var pts []r3.Vector
	for i := range 60 {
		s, c := math.Sincos(degrees / 60 * float64(i) * math.Pi / 180)
		r := 3.3 + 0.01*[]float64{1, -1, -1, 1, 1, -1, 1, -1}[i%8]
		pts = append(pts, r3.Vector{X: x + r*c, Y: y + r*s, Z: -0.7 * float64(i*5%8)})
	}
	return pts
}

func ExampleCylinderTo() {
	f, err := fit.CylinderTo(boreWall(42, 0, 360), fit.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	d, u := 2*f.Radius, 2*math.Sqrt(f.Cov[4][4])
	fmt.Printf("diameter %.3f ± %.3f, noise %.3f\n", d, 2*u, f.Residuals.Sigma)
	fmt.Printf("axis %.0f%% along Z\n", 100*f.Axis.Z)
	// Output:
	// diameter 6.600 ± 0.005, noise 0.010
	// axis 100% along Z
}

// A search over kinds needs no switch: which surface of these meets the points best?
func ExampleTo() {
	for _, kind := range []fit.Kind{fit.KindPlane, fit.KindCylinder, fit.KindSphere} {
		f, err := fit.To(kind, boreWall(42, 0, 360), fit.Options{})
		if err == nil {
			fmt.Printf("%v: RMS %.3f\n", kind, f.Statistics().RMS)
		}
	}
	// Output:
	// plane: RMS 1.624
	// cylinder: RMS 0.010
	// sphere: RMS 0.309
}

// A wall seen over 60 degrees, of a hole perpendicular to a face and made by a known
// drill: what is known beforehand says where the axis is.
func ExampleCylinderTo_held() {
	pts := boreWall(42, 0, 60)
	free, _ := fit.CylinderTo(pts, fit.Options{})
	held, err := fit.CylinderTo(pts, fit.Options{Direction: r3.Vector{Z: 1}, Radius: 3.3})
	place := func(f fit.CylinderFit) float64 { return math.Sqrt(f.Cov[0][0] + f.Cov[1][1]) }
	fmt.Printf("axis ± %.3f, with nothing held ± %.3f, %v\n", place(held), place(free), err)
	// Output: axis ± 0.005, with nothing held ± 0.032, <nil>
}

func ExamplePlaneTo() {
	pts := []r3.Vector{{X: 0, Y: 0, Z: 1}, {X: 10, Y: 0, Z: 1.02}, {X: 10, Y: 10, Z: 1}, {X: 0, Y: 10, Z: 1.02}}
	f, err := fit.PlaneTo(pts, fit.Options{})
	fmt.Printf("height %.3f, form error %.3f, %v\n", f.Point.Z, f.Residuals.FormError, err)
	// Output: height 1.010, form error 0.020, <nil>
}

// A straight edge has no radius; the error says so.
func ExampleFlatError() {
	_, err := fit.Circle2DTo([]r3.Vector{{Y: 0.01}, {X: 5, Y: -0.01}, {X: 10, Y: 0.01}, {X: 15, Y: -0.01}, {X: 20, Y: 0.01}}, fit.Options{})
	var flat *fit.FlatError
	fmt.Println(errors.As(err, &flat))
	// Output: true
}

// A face of 80 x 60 mm whose noise is correlated over some 6 mm. The cells are those of a
// plane fitted to it: three terms.
func ExampleCells() {
	var pts []r3.Vector
	for i := range 80 * 60 {
		x, y := float64(i%80), float64(i/80)
		pts = append(pts, r3.Vector{X: x, Y: y, Z: 0.02 * math.Sin(x/4) * math.Cos(y/5)})
	}
	f, err := fit.PlaneTo(pts, fit.Options{})
	cells := fit.Cells(f, pts)
	fmt.Printf("%d cells, %d terms, %v\n", len(cells.At), len(cells.Terms[0]), err)
	// Output: 63 cells, 3 terms, <nil>
}
