package pattern

import (
	"math/rand/v2"
	"testing"
)

// BenchmarkSearch finds patterns among 400 holes, in parts of a second: a grid of 20 by
// 20, ten concentric rings with odd holes between them, and holes anywhere.
func BenchmarkSearch(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	rings := anywhere(rng, 60)
	for k := range 10 {
		rings = append(rings, onRing(75, 75, 30+8*float64(k), steps(16+4*k, 7*float64(k))...)...)
	}
	for _, c := range []struct {
		name string
		xy   [][2]float64
	}{{"grid", onGrid(20, 20, 12, 9)}, {"rings", rings[:400]}, {"anywhere", anywhere(rng, 400)}} {
		f := features(0.01, 4, c.xy...)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				Search(f)
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/search")
		})
	}
}
