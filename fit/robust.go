package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// RobustOptions of the fits that stand points which do not belong. The zero
// value works.
type RobustOptions struct {
	// Seed picks the samples that starts are drawn from. Same points, options
	// and seed: same answer.
	Seed uint64
	// Samples is how many starts are drawn. Zero means 100, of which with two
	// points in five bad some 20 of three points each are good.
	Samples int
	// MaxIter bounds the iterations of each refit. Zero means 200.
	MaxIter int
}

// Rejection is what a robust fit thinks of the points.
type Rejection struct {
	// Weights holds for each point the probability that it belongs to the
	// shape, zero below 0.02.
	Weights []float64
	// Rejected is the number of points that more likely do not belong, and
	// Share the estimated share of all points that do not. Share is the larger
	// by those which happen to lie on the shape all the same.
	Rejected int
	Share    float64
	// Noise is the estimated standard deviation of the points that belong, mm.
	Noise float64
}

// AmbiguousError says that a second shape explains as many of the points as
// the fitted one, which comes back with it. The choice between them was made by
// a small difference.
type AmbiguousError struct {
	Feature       string
	Points, Other int // that the one and the other explain
}

func (e *AmbiguousError) Error() string {
	return fmt.Sprintf("fit %s: ambiguous: one explains %d of the points, another one %d others: give it the points of one edge only",
		e.Feature, e.Points, e.Other)
}

// candidateShape is a shape under robust search.
type candidateShape interface {
	// need is how many points fix it.
	need() int
	// through makes it the shape through some points. False where there is none.
	through(c *cloud, at []int) bool
	// refit brings it to the weighted least squares of c.
	refit(c *cloud, maxIter int) bool
	// residuals writes the points' distances, signed where a shape has sides.
	residuals(c *cloud, r []float64)
	clone() candidateShape
}

// reject finds the shape that most points agree on, and what each point has to
// do with it.
//
// Start: least quantile of squares (Rousseeuw, J. Am. Stat. Assoc. 79 (1984)
// 871–880) over random minimal samples, the best of them concentrated on
// those with the least residuals (Rousseeuw & Van Driessen, Data Min. Knowl.
// Discov. 12 (2006) 29–45, C-steps). Then the likelihood of normal noise of
// unknown size mixed with outliers of a density estimated on each side,
// maximised by expectation and maximisation (Dempster, Laird & Rubin, J. R.
// Stat. Soc. B 39 (1977) 1–38): weights redescend to zero where the residual fits
// the outliers better.
func reject(feature string, shape candidateShape, c *cloud, opt RobustOptions) (candidateShape, Rejection, error) {
	n := len(c.x)
	best, ok := highBreakdown(shape, c, opt)
	if !ok {
		return nil, Rejection{}, degenerate(feature, "no sample of the points fixes one")
	}
	rej, shapeOut := mixture(best, c, opt)
	// Do those left out agree on another one?
	var rest []int
	for i, w := range rej.Weights {
		if w < 0.5 {
			rest = append(rest, i)
		}
	}
	own := n - len(rest)
	if len(rest) >= max(shape.need()+3, own*4/5) {
		sub := c.pick(rest)
		if other, ok := highBreakdown(shape, sub, opt); ok {
			r := make([]float64, len(rest))
			other.residuals(sub, r)
			on := 0
			for _, v := range r {
				if math.Abs(v) <= 3*rej.Noise/c.scale {
					on++
				}
			}
			if on*5 >= own*4 {
				return shapeOut, rej, &AmbiguousError{feature, own, on}
			}
		}
	}
	return shapeOut, rej, nil
}

// pick returns the listed points.
func (c *cloud) pick(at []int) *cloud {
	o := &cloud{n: len(at), centre: c.centre, scale: c.scale}
	for _, i := range at {
		o.x, o.y, o.z = append(o.x, c.x[i]), append(o.y, c.y[i]), append(o.z, c.z[i])
	}
	return o
}

// highBreakdown draws minimal samples and returns the shape with the least
// trimmed spread.
func highBreakdown(shape candidateShape, c *cloud, opt RobustOptions) (candidateShape, bool) {
	n, need := len(c.x), shape.need()
	samples := opt.Samples
	if samples <= 0 {
		samples = 100
	}
	rng := rand.New(rand.NewPCG(opt.Seed, 0x5707face))
	small, few := c.sample(200), c.sample(80)
	r := make([]float64, len(small.x))
	seen := make([]float64, len(few.x))
	type ranked struct {
		s   candidateShape
		med float64
	}
	const keep = 2
	var top []ranked
	at := make([]int, need)
	try := shape.clone()
	for range samples {
		for k := range at {
			at[k] = rng.IntN(n)
		}
		if !try.through(c, at) {
			continue
		}
		try.residuals(few, seen)
		for i, v := range seen {
			seen[i] = math.Abs(v)
		}
		m := quickSelect(seen, quorum(len(seen), need)-1)
		if math.IsNaN(m) || len(top) == keep && m >= top[keep-1].med {
			continue
		}
		if len(top) < keep {
			top = append(top, ranked{})
		}
		k := len(top) - 1
		for ; k > 0 && top[k-1].med > m; k-- {
			top[k] = top[k-1]
		}
		top[k] = ranked{try.clone(), m}
	}
	if len(top) == 0 {
		return nil, false
	}
	// C-steps: refit to the half with the least residuals, a few times.
	sub := *small
	sub.sw = make([]float64, len(small.x))
	half := quorum(len(small.x), need)
	bestAt, best := -1, math.Inf(1)
	abs := make([]float64, len(r))
	for k := range top {
		var trimmed float64
		for range 3 {
			top[k].s.residuals(small, r)
			for i, v := range r {
				abs[i] = math.Abs(v)
			}
			cut := quickSelect(abs, half-1)
			sub.n, trimmed = 0, 0
			for i, v := range r {
				sub.sw[i] = 0
				if math.Abs(v) <= cut {
					sub.sw[i] = 1
					sub.n++
					trimmed += v * v
				}
			}
			trimmed /= float64(sub.n)
			if !top[k].s.refit(&sub, 2) {
				break
			}
		}
		if trimmed < best {
			best, bestAt = trimmed, k
		}
	}
	if bestAt < 0 {
		return nil, false
	}
	return top[bestAt].s, true
}

// quorum is how many of n points must agree on a shape: a little less than half,
// so that of two shapes that share the points evenly one is found, and not what
// lies between them.
func quorum(n, need int) int { return min(n, n*9/20+(need+1)/2) }

// quickSelect returns the k-th least of v, whose order it changes.
func quickSelect(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		p := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < p {
				i++
			}
			for v[j] > p {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}
