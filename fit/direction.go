package fit

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/mesh/geom"
)

// candidate is a direction of an axis and its score: the mean square distance that a
// surface about it would leave, from the moments alone.
type candidate struct {
	w     r3.Vector
	score float64
}

// axisStarts returns directions at which score is least, best first: the best of a
// Fibonacci lattice over half the sphere (Swinbank & Purser, Q. J. R. Meteorol. Soc.
// 132 (2006) 1769–1793) and the directions given, each walked downhill, the latter also
// in steps of fine. A score is a few hundred operations whatever the number of points,
// so trying them all is cheap and misses no valley wider than the lattice; valleys that
// are narrower belong to features much longer than wide, whose axis is a principal
// direction.
func axisStarts(score func(w r3.Vector) float64, extra []r3.Vector, fine float64, most int) []r3.Vector {
	const golden = 2.399963229728653 // π(3 - √5)
	var low []candidate
	for i := range axisGrid {
		z := (float64(i) + 0.5) / axisGrid
		r := math.Sqrt(1 - z*z)
		s, c := math.Sincos(golden * float64(i))
		w := r3.Vector{X: r * c, Y: r * s, Z: z}
		low = append(low, candidate{w, score(w)})
	}
	for _, w := range extra {
		low = append(low, candidate{w, score(w)})
	}
	low = apart(low, latticeApart, most)
	for i := range low {
		low[i] = descend(score, low[i], latticeStep)
	}
	for _, w := range extra {
		low = append(low, descend(score, candidate{w, score(w)}, fine))
	}
	return directions(apart(low, sameAxis, most))
}

// apart returns at most so many of the candidates, best first, that are an angle, rad,
// apart.
func apart(all []candidate, angle float64, most int) (out []candidate) {
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(a.score, b.score) })
	for _, g := range all {
		near := slices.ContainsFunc(out, func(o candidate) bool { return o.w.Cross(g.w).Norm() < angle })
		if !near && len(out) < most {
			out = append(out, g)
		}
	}
	return out
}

func directions(all []candidate) (out []r3.Vector) {
	for _, g := range all {
		out = append(out, g.w)
	}
	return out
}

// fineStep is how far, in radians, the axis of a long narrow strip may turn
// before it leaves the strip.
func fineStep(val [3]float64) float64 { return min(math.Sqrt(val[0]/val[2])/2, 0.01) }

// descend walks a direction downhill by a compass search (Kolda, Lewis &
// Torczon, SIAM Review 45 (2003) 385–482, section 1.1).
func descend(score func(w r3.Vector) float64, g candidate, step float64) candidate {
	last := min(step/50, 1e-3)
	for moves := 0; step > last && moves < 80; moves++ {
		e1, e2 := geom.Basis(g.w)
		moved := false
		for _, d := range [4]r3.Vector{e1, e2, e1.Mul(-1), e2.Mul(-1)} {
			w := geom.Unit(g.w.Add(d.Mul(step)))
			if v := score(w); v < g.score {
				g, moved = candidate{w, v}, true
				break
			}
		}
		if !moved {
			step /= 2
		}
	}
	return g
}

// perpendicularStarts are the directions perpendicular to d, on half a turn in steps of
// 1.5 degrees, at which score is least, best first.
func perpendicularStarts(score func(w r3.Vector) float64, d r3.Vector, most int) []r3.Vector {
	e1, e2 := geom.Basis(d)
	var ring []candidate
	for i := range perpendicularSteps {
		s, c := math.Sincos(math.Pi * float64(i) / perpendicularSteps)
		w := e1.Mul(c).Add(e2.Mul(s))
		ring = append(ring, candidate{w, score(w)})
	}
	return directions(apart(ring, latticeApart, most))
}
