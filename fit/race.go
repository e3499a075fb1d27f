package fit

import (
	"cmp"
	"math"
	"slices"
)

// runner is a start and how far it came.
type runner[M model] struct {
	m     M
	f     float64
	iters int
}

// race gives every start a few steps, and the best of them as many as they
// need, and returns these, the winner first.
func race[M model](field []runner[M], c *cloud, maxIter int) []runner[M] {
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
	return slices.DeleteFunc(field, func(r runner[M]) bool { return math.IsInf(r.f, 1) })
}
