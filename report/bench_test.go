package report

import (
	"math/rand/v2"
	"testing"
)

// A ring of 40 holes that scatter: the longest search for those that stand out.
func BenchmarkFindStandoutsOf40(b *testing.B) {
	var angles []float64
	for i := range 40 {
		angles = append(angles, float64(i)*9)
	}
	p := noisyRing(rand.New(rand.NewPCG(1, 1)), angles, 0.02)
	p.u = 0.004
	rep := p.report(b)
	for b.Loop() {
		FindStandouts(rep, &rep.BoltCircles[0])
	}
}

func BenchmarkCheck(b *testing.B) {
	rep := kettlePort().report(b)
	plan := parse(b, portPlan)
	for b.Loop() {
		if err := Check(plan, rep); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCheck100Holes(b *testing.B) {
	p := kettlePort()
	p.angles = nil
	for i := range 100 {
		p.angles = append(p.angles, float64(i)*3.6)
	}
	p.pitch = 600
	rep := p.report(b)
	plan := parse(b, "bolt_circles: [{id: B1, count: 100, clocking: {band: [-1, 1]}}]")
	for b.Loop() {
		if err := Check(plan, rep); err != nil {
			b.Fatal(err)
		}
	}
}
