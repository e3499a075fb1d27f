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

// axisStarts returns directions at which score is least among their
// neighbours, best first: a Fibonacci lattice over half the sphere (Swinbank &
// Purser, Q. J. R. Meteorol. Soc. 132 (2006) 1769–1793) and the directions
// given, each then walked downhill, from the latter also in steps of fine. A score is a
// few hundred operations whatever the number of points, so trying them all is cheap and misses no
// valley wider than the lattice; valleys that are narrower belong to features
// much longer than wide, whose axis is a principal direction.
func axisStarts(score func(w r3.Vector) float64, extra []r3.Vector, fine float64, most int) []r3.Vector {
	const golden = 2.399963229728653 // π(3 - √5)
	grid := make([]candidate, axisGrid)
	for i := range grid {
		z := (float64(i) + 0.5) / axisGrid
		r := math.Sqrt(1 - z*z)
		s, c := math.Sincos(golden * float64(i))
		w := r3.Vector{X: r * c, Y: r * s, Z: z}
		grid[i] = candidate{w, score(w)}
	}
	var low []candidate
	for i, g := range grid {
		if latticeLow(grid, i) {
			low = append(low, g)
		}
	}
	for i := range low {
		low[i] = descend(score, low[i], latticeStep)
	}
	for _, w := range extra {
		g := candidate{w, score(w)}
		low = append(low, g, descend(score, g, latticeStep), descend(score, g, fine))
	}
	slices.SortStableFunc(low, func(a, b candidate) int { return cmp.Compare(a.score, b.score) })
	var out []r3.Vector
	for _, l := range low {
		twice := slices.ContainsFunc(out, func(o r3.Vector) bool { return o.Cross(l.w).Norm() < sameAxis })
		if !twice && len(out) < most {
			out = append(out, l.w)
		}
	}
	return out
}

// fineStep is how far, in radians, the axis of a long narrow strip may turn
// before it leaves the strip.
func fineStep(val [3]float64) float64 { return min(math.Sqrt(val[0]/val[2])/2, 0.01) }

// latticeLow reports whether no neighbour of lattice point i scores less. On
// this lattice neighbours are Fibonacci numbers apart, but for those that meet
// across the half sphere's rim as opposite directions.
func latticeLow(grid []candidate, i int) bool {
	near := math.Cos(1.9 * math.Sqrt(2*math.Pi/axisGrid))
	below := func(j int) bool {
		return grid[j].score < grid[i].score && math.Abs(grid[i].w.Dot(grid[j].w)) > near
	}
	for a, b := 1, 2; a < axisGrid/2; a, b = b, a+b {
		if i >= a && below(i-a) || i+a < axisGrid && below(i+a) {
			return false
		}
	}
	if rim := axisGrid / 6; i < rim {
		for j := range rim {
			if below(j) {
				return false
			}
		}
	}
	return true
}

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

// perpendicularStarts are the directions perpendicular to d at which score is least among
// their neighbours, on half a turn in steps of 1.5 degrees.
func perpendicularStarts(score func(w r3.Vector) float64, d r3.Vector) []r3.Vector {
	const steps = perpendicularSteps
	if d == (r3.Vector{}) {
		return nil
	}
	e1, e2 := geom.Basis(d)
	var ring [steps]candidate
	for i := range ring {
		s, c := math.Sincos(math.Pi * float64(i) / steps)
		w := e1.Mul(c).Add(e2.Mul(s))
		ring[i] = candidate{w, score(w)}
	}
	var out []r3.Vector
	for i, g := range ring {
		if g.score <= ring[(i+1)%steps].score && g.score <= ring[(i+steps-1)%steps].score {
			out = append(out, g.w)
		}
	}
	return out
}
