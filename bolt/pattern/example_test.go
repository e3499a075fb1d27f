package pattern_test

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"spotface/bolt/pattern"
)

// Four holes on a square of 60 mm, one of them 0.3 mm off: against the pattern that the
// other three make.
func ExampleTo() {
	nominal := [][2]float64{{30, 30}, {-30, 30}, {-30, -30}, {30, -30}}
	measured := pattern.Places{
		XY:  [][2]float64{{130, 80.3}, {70, 80}, {70, 20}, {130, 20}},
		Cov: mat.NewSymDense(8, nil),
	}
	for i := range 8 {
		measured.Cov.SetSym(i, i, 0.01*0.01)
	}
	f, err := pattern.To(nominal, measured, pattern.Options{Use: pattern.Without(4, 0)})
	if err != nil {
		fmt.Println(err)
		return
	}
	off := f.Off(0).In([2]float64{0, 1})
	fmt.Printf("centre %.1f, %.1f; first hole %.2f mm up, standard uncertainty %.3f\n", f.Centre[0], f.Centre[1], off.Off, off.U)
	// Output: centre 100.0, 50.0; first hole 0.30 mm up, standard uncertainty 0.014
}

func ExampleReadings() {
	var places pattern.Places
	for _, a := range []float64{0, 60, 120} {
		sin, cos := math.Sincos(a * math.Pi / 180)
		places.XY = append(places.XY, [2]float64{45 * cos, 45 * sin})
	}
	places.Cov = mat.NewSymDense(6, nil)
	r, err := pattern.Readings(places)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r[0].What())
	// Output: 3 positions at 60 degrees, part of a ring
}

// An adapter with six holes of 6.6 mm on 84 mm and four of 5.5 mm on 80 mm, turned so that
// the holes of the two circles keep most material between them.
func ExampleClock() {
	ring := func(n int, pitch, hole float64) (out []pattern.Circle) {
		for k := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			out = append(out, pattern.Circle{XY: [2]float64{pitch / 2 * cos, pitch / 2 * sin}, Radius: hole / 2})
		}
		return out
	}
	six := ring(6, 84, 6.6)
	webs, err := pattern.Clock(six, ring(4, 80, 5.5))
	if err != nil {
		fmt.Println(err)
		return
	}
	w := webs[0]
	fmt.Printf("turn %.1f degrees: %.2f mm between holes %d and %d; %.2f mm to an edge of radius 50\n",
		w.Turn.Degrees(), w.Least, w.Pair[0]+1, w.Pair[1]+1, six[0].Edge(50))
	// Output: turn 15.0 degrees: 4.84 mm between holes 1 and 1; 4.70 mm to an edge of radius 50
}
