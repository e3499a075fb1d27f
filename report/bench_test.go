package report

import (
	"math/rand/v2"
	"testing"
)

// A ring of 40 holes that scatter: the longest search for those that are off.
func BenchmarkFindStandoutsOf40(b *testing.B) {
	var angles []float64
	for i := range 40 {
		angles = append(angles, float64(i)*9)
	}
	p := noisyRing(rand.New(rand.NewPCG(1, 1)), angles, 0.02)
	p.U = 0.004
	rep := reportOf(b, p)
	for b.Loop() {
		FindStandouts(rep, &rep.BoltCircles[0])
	}
}
