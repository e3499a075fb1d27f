package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"
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

// mixture maximises the likelihood of noise and outliers from a start.
func mixture(s candidateShape, c *cloud, opt RobustOptions) (Rejection, candidateShape) {
	n := len(c.x)
	r := make([]float64, n)
	abs := make([]float64, n)
	s.residuals(c, r)
	for i, v := range r {
		abs[i] = math.Abs(v)
	}
	slices.Sort(abs)
	// Quartile and median of half normal noise are 0.3186 and 0.6745 σ; outliers
	// make them those of more than a quarter and a half of the good ones.
	sigma := min(abs[n/4]/0.3186, abs[n/2]/0.6745)
	sigma = max(sigma*(1+5/float64(max(n-s.need(), 1))), c.grain())
	w := *c
	w.sw = make([]float64, n)
	p := make([]float64, n)
	var dens [2]float64 // of outliers next to the shape, below and above it
	share := 0.2
	for round := range 60 {
		if round == 0 {
			dens = [2]float64{0.1 / abs[n-1], 0.1 / abs[n-1]}
		} else {
			dens, share = outlierDensity(r, p, sigma)
		}
		var sum, ss, moved float64
		norm := (1 - share) / (math.Sqrt(2*math.Pi) * sigma)
		for i, v := range r {
			u := v / sigma
			good := norm * math.Exp(-u*u/2)
			q := good / (good + dens[side(v)])
			moved = max(moved, math.Abs(q-p[i]))
			p[i] = q
			sum += q
			ss += q * v * v
		}
		free := sum - float64(s.need())
		if free < 1 {
			break
		}
		sigma = max(math.Sqrt(ss/free), c.grain())
		w.n = 0
		for i, q := range p {
			w.sw[i] = 0
			if q >= 0.02 {
				w.sw[i] = math.Sqrt(q)
				w.n++
			}
		}
		if w.n < s.need() || !s.refit(&w, 2) || round > 1 && moved < 3e-3 {
			break
		}
		s.residuals(c, r)
	}
	out := Rejection{Weights: p, Noise: sigma * c.scale, Share: share}
	for i, q := range p {
		if q < 0.5 {
			out.Rejected++
		}
		if q < 0.02 {
			p[i] = 0
		}
	}
	return out, s
}

// outlierDensity estimates how dense outliers are next to the shape, per unit
// of residual and point, on each side, and their share of the points. What is
// needed is the density where good and bad meet, some three σ out: it is
// counted between 2.5 and 6.5 σ, less the good ones to be expected there, with
// what an even spread out to the furthest would put there as a prior worth one
// count. A burr that stands off leaves the gap empty, a chamfer fills it.
func outlierDensity(r, p []float64, sigma float64) (dens [2]float64, share float64) {
	const from, to = 2.5, 6.5
	const tail = 0.00621 // of normal noise beyond 2.5 σ on one side
	n := float64(len(r))
	var reach, seen, bad [2]float64
	for i, v := range r {
		k, a := side(v), math.Abs(v)
		reach[k] = max(reach[k], a)
		bad[k] += 1 - p[i]
		if a > from*sigma && a <= to*sigma {
			seen[k]++
		}
	}
	share = min((bad[0]+bad[1])/n, 0.9)
	for k := range dens {
		even := bad[k] / max(reach[k], to*sigma) * (to - from) * sigma
		found := max(seen[k]-tail*n*(1-share), 0)
		count := 0.0
		if even > 0 {
			count = (1 + found) / (1/even + 1)
		}
		// A fifth of a count at least: beyond 4 σ or so nothing is good.
		dens[k] = max(count, 0.2) / (n * (to - from) * sigma)
	}
	return dens, share
}

func side(v float64) int {
	if v > 0 {
		return 1
	}
	return 0
}

// modelShape makes a candidate of a model that the solver can iterate.
type modelShape struct {
	m      model
	points int
	make   func(p []r3.Vector) (model, bool)
	copy   func(m model) model
	b      *block
}

func (s *modelShape) need() int { return s.points }

func (s *modelShape) clone() candidateShape {
	o := *s
	if s.m != nil {
		o.m = s.copy(s.m)
	}
	return &o
}

func (s *modelShape) through(c *cloud, at []int) bool {
	var buf [8]r3.Vector
	p := buf[:0]
	for _, i := range at {
		p = append(p, r3.Vector{X: c.x[i], Y: c.y[i], Z: c.z[i]})
	}
	m, ok := s.make(p)
	s.m = m
	return ok
}

func (s *modelShape) refit(c *cloud, maxIter int) bool {
	// One core and its block, used over and over.
	w := crew{m: s.m, c: c, b: s.b, workers: 1}
	r := w.solve(maxIter)
	return !math.IsInf(r.f, 0) && !math.IsNaN(r.f)
}

func (s *modelShape) residuals(c *cloud, r []float64) {
	if m, ok := s.m.(*circle2Model); ok && m.cur.k != 0 {
		ctr, radius := m.cur.centre(), 1/m.cur.k
		sign := math.Copysign(1, radius)
		for i := range r {
			dx, dy := c.x[i]-ctr.X, c.y[i]-ctr.Y
			r[i] = sign*math.Sqrt(dx*dx+dy*dy) - radius
		}
		return
	}
	var zero [maxParams]float64
	s.m.try(&zero)
	per := s.m.perPoint()
	for lo := 0; lo < len(c.x); lo += blockRows / per {
		hi := min(lo+blockRows/per, len(c.x))
		s.m.rows(c, lo, hi, s.b)
		copy(r[lo:hi], s.b.f[:hi-lo])
		if per == 2 {
			for i := range hi - lo {
				r[lo+i] = math.Hypot(r[lo+i], s.b.f[hi-lo+i])
			}
		}
	}
}
