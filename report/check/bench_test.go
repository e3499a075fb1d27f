package check

import (
	"testing"

	"spotface/report/internal/testpart"
)

func BenchmarkCheck(b *testing.B) {
	rep := reportOf(b, testpart.Kettle())
	p := parse(b, testpart.Plan)
	for b.Loop() {
		if _, err := Check(p, rep); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCheck100Holes(b *testing.B) {
	port := testpart.Kettle()
	port.Angles = nil
	for i := range 100 {
		port.Angles = append(port.Angles, float64(i)*3.6)
	}
	port.Pitch = 600
	rep := reportOf(b, port)
	p := parse(b, "bolt_circles: [{id: B1, count: 100, clocking: {band: [-1, 1]}}]")
	for b.Loop() {
		if _, err := Check(p, rep); err != nil {
			b.Fatal(err)
		}
	}
}
