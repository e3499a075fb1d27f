package pattern

import (
	"math"

	"github.com/golang/geo/s1"
)

// Disc is a round hole of a plate: its centre and diameter, mm.
type Disc struct {
	At       [2]float64
	Diameter float64
}

// Edge is the material between the hole and a plate's round edge about the origin, mm.
func (d Disc) Edge(plateDiameter float64) float64 {
	return (plateDiameter-d.Diameter)/2 - math.Hypot(d.At[0], d.At[1])
}

// Web is the least material between a hole of one pattern and one of another in the same
// plate, mm.
type Web struct {
	Turn  s1.Angle // of the second pattern about the origin, in [0, 360) degrees
	Width float64  // negative where two holes meet; +Inf without holes
	Pair  [2]int   // the two holes
}

// WidestWeb finds the turn of b about the origin that leaves most material between any
// hole of a and any of b, as for an adapter that carries both patterns.
func WidestWeb(a, b []Disc) Web {
	best := Web{Width: math.Inf(-1)}
	look := func(from, step float64) {
		for k := range webSteps {
			turn := from + float64(k)*step
			sin, cos := math.Sincos(turn)
			w := Web{Turn: s1.Angle(math.Mod(turn+2*math.Pi, 2*math.Pi)), Width: math.Inf(1)}
			for j, q := range b {
				at := [2]float64{cos*q.At[0] - sin*q.At[1], sin*q.At[0] + cos*q.At[1]}
				for i, p := range a {
					if d := distance(p.At, at) - (p.Diameter+q.Diameter)/2; d < w.Width {
						w.Width, w.Pair = d, [2]int{i, j}
					}
				}
			}
			if w.Width > best.Width {
				best = w
			}
		}
	}
	step := 2 * math.Pi / webSteps
	look(0, step)
	for range 2 {
		look(best.Turn.Radians()-step, 2*step/webSteps)
		step = 2 * step / webSteps
	}
	return best
}
