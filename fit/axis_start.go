package fit

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/r3"
)

// axisGrid is the number of directions tried over half the sphere, about 4.5
// degrees apart.
const axisGrid = 600

// candidate is a direction of an axis and the mean square distance that a
// surface about it would leave, from the moments alone.
type candidate struct {
	w  r3.Vector
	ms float64
}

// axisStarts returns directions at which score is least among their
// neighbours, best first: a Fibonacci lattice over half the sphere (Swinbank &
// Purser, Q. J. R. Meteorol. Soc. 132 (2006) 1769–1793) and the directions
// given, each then walked downhill, from the latter also in steps of fine. A score is a few hundred operations
// whatever the number of points, so trying them all is cheap and misses no
// valley wider than the lattice; valleys that are narrower belong to features
// much longer than wide, whose axis is a principal direction.
func axisStarts(score func(w r3.Vector) float64, extra []r3.Vector, fine float64, most int) []candidate {
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
		low[i] = descend(score, low[i], 0.05)
	}
	for _, w := range extra {
		g := candidate{w, score(w)}
		low = append(low, g, descend(score, g, 0.05), descend(score, g, fine))
	}
	slices.SortStableFunc(low, func(a, b candidate) int { return cmp.Compare(a.ms, b.ms) })
	var out []candidate
	for _, l := range low {
		twice := slices.ContainsFunc(out, func(o candidate) bool { return o.w.Cross(l.w).Norm() < 1e-3 })
		if !twice && len(out) < most {
			out = append(out, l)
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
		return grid[j].ms < grid[i].ms && math.Abs(grid[i].w.Dot(grid[j].w)) > near
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
		e1, e2 := Frame(g.w)
		moved := false
		for _, d := range [4]r3.Vector{e1, e2, e1.Mul(-1), e2.Mul(-1)} {
			w := unit(g.w.Add(d.Mul(step)))
			if ms := score(w); ms < g.ms {
				g, moved = candidate{w, ms}, true
				break
			}
		}
		if !moved {
			step /= 2
		}
	}
	return g
}

// cylinderStart finds a cylinder on a sample of c.
func cylinderStart(c *cloud, maxIter int) (*cylinderModel, int, error) {
	small := c.sample(600)
	var g moments
	g.add(small)
	_, dir, val := principal(small)
	grain := c.grain()
	if val[1] <= 64*grain*grain {
		return nil, 0, degenerate("cylinder", "all points are on one line; a cylinder needs points beside it")
	}
	if val[0] <= 64*grain*grain {
		return nil, 0, degenerate("cylinder", "all points are on one plane; a cylinder needs points off it")
	}
	score := func(w r3.Vector) float64 {
		m, _ := g.circleMatrix(w)
		return leastEigen(&m, 3)
	}
	var field []runner[*cylinderModel]
	for _, st := range axisStarts(score, dir[:], fineStep(val), 16) {
		a, b, d, _ := g.taubinAbout(st.w)
		field = append(field, runner[*cylinderModel]{m: &cylinderModel{cur: arcOf(a, b, d, st.w)}})
	}
	best, ok := race(field, small, maxIter)
	if !ok {
		return nil, 0, degenerate("cylinder", "no cylinder near the points")
	}
	return best.m, best.iters, nil
}

// runner is a start and how far it came.
type runner[M model] struct {
	m     M
	f     float64
	iters int
}

// race gives every start a few steps, and the best of them as many as they
// need, and returns the winner.
func race[M model](field []runner[M], c *cloud, maxIter int) (runner[M], bool) {
	const heat, finalists = 12, 5
	byCost := func(a, b runner[M]) int { return cmp.Compare(a.f, b.f) }
	run := func(r *runner[M], most int) {
		s := solve(r.m, c, most)
		r.f, r.iters = s.f, r.iters+s.iters
		if math.IsNaN(r.f) {
			r.f = math.Inf(1)
		}
	}
	for i := range field {
		run(&field[i], heat)
	}
	slices.SortStableFunc(field, byCost)
	field = field[:min(finalists, len(field))]
	for i := range field {
		run(&field[i], maxIter)
	}
	slices.SortStableFunc(field, byCost)
	if len(field) == 0 || math.IsInf(field[0].f, 1) {
		return runner[M]{}, false
	}
	return field[0], true
}
