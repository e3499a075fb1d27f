package noise_test

import (
	"context"
	"fmt"
	"log"
	"math"
	"math/rand/v2"

	"github.com/golang/geo/r3"

	"spotface/fit/noise"
)

// Twelve rims of 8 mm, of which means of five points are known at 24 places. Neighbours
// share their error of 0.02 mm: each differs little from the one before.
func Example() {
	rng := rand.New(rand.NewPCG(1, 2))
	var rims []noise.Patch
	for range 12 {
		p := noise.Patch{Axis: r3.Vector{Z: 1}, Width: 8 * math.Pi / 24, Y: make([][]float64, 1)}
		e := 0.02 * rng.NormFloat64()
		for i := range 24 {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / 24)
			p.At = append(p.At, r3.Vector{X: 4 * cos, Y: 4 * sin})
			p.Terms = append(p.Terms, []float64{cos, sin, 1})
			e = 0.6*e + 0.016*rng.NormFloat64()
			p.Y[0], p.N = append(p.Y[0], e), append(p.N, 5)
		}
		rims = append(rims, p)
	}
	m, err := noise.Learn(context.Background(), rims, nil, 4, 0)
	if err != nil {
		log.Fatal(err)
	}
	f, _ := m.Fit(&rims[0], rims[0].Terms)
	fmt.Printf("shared %.2f mm, over %.1f mm; a centre is known to %.3f mm\n",
		math.Sqrt(m.Total()), m.CorrelationLength(), math.Sqrt(f.Cov.At(0, 0)))
	// Output: shared 0.02 mm, over 2.0 mm; a centre is known to 0.011 mm
}
