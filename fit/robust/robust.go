// Package robust fits shapes to points of which some do not belong: burrs,
// chamfers, dust. It says how likely each point belongs.
//
// Lengths are millimetres; points are in any order and neither changed nor kept. The
// noise need not be known. Up to two points in five or so may be outliers, of a
// cylinder without a known axis one in five. What comes back is the weighted
// least-squares fit of package fit with the probabilities as weights; its covariance
// is that of the points that belong.
//
// Method: least quantile of squares (Rousseeuw, J. Am. Stat. Assoc. 79 (1984)
// 871–880) over random minimal samples, the best of them concentrated on the points
// with the least residuals (Rousseeuw & Van Driessen, Data Min. Knowl. Discov. 12
// (2006) 29–45, C-steps). Then the likelihood of normal noise of unknown size mixed
// with outliers of a density estimated on each side, maximised by expectation and
// maximisation (Dempster, Laird & Rubin, J. R. Stat. Soc. B 39 (1977) 1–38): weights
// redescend to zero where the residual fits the outliers better.
package robust

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/golang/geo/r3"

	"spotface/fit"
	"spotface/mesh/geom"
)

// Options of the fits. The zero value works.
type Options struct {
	// Fit are the options of the least-squares fits: what is held, and how long they
	// may take. Its Weights must be nil.
	Fit fit.Options
	// Seed picks the samples that starts are drawn from. Same points, options and
	// seed: same answer.
	Seed uint64
}

// Outliers is what a robust fit found out about the points.
type Outliers struct {
	// Weights holds for each point the probability that it belongs to the shape, zero
	// below 0.02.
	Weights []float64
	// Count is the number of points that more likely do not belong, and Share the
	// estimated share of all points that do not. Share is the larger by those which
	// happen to lie on the shape all the same.
	Count int
	Share float64
	// Noise is the estimated standard deviation of the points that belong, mm.
	Noise float64
}

// AmbiguousError says that a second shape explains as many of the points as the
// fitted one, which comes back with it. The choice between them was made by a small
// difference.
type AmbiguousError struct {
	Feature       string
	Points, Other int // that the one and the other explain
}

func (e *AmbiguousError) Error() string {
	return fmt.Sprintf("fit %s: ambiguous: one explains %d of the points, another one "+
		"%d others: give it the points of one edge only",
		e.Feature, e.Points, e.Other)
}

// To fits a surface of a kind to pts, mm. Errors: those of the least-squares fit, and
// *AmbiguousError with the answer.
func To(kind fit.Kind, pts []r3.Vector, opt Options) (fit.Fit, Outliers, error) {
	out, err := outliers(kind, pts, opt)
	return weighted(out, err, opt, func(o fit.Options) (fit.Fit, error) {
		return fit.To(kind, pts, o)
	})
}

// Circle2D fits a circle to points in the plane z = 0: a cylinder across it.
func Circle2D(pts []r3.Vector, opt Options) (fit.CircleFit, Outliers, error) {
	across := opt
	across.Fit.Direction = r3.Vector{Z: 1}
	out, err := outliers(fit.KindCylinder, pts, across)
	return weighted(out, err, opt, func(o fit.Options) (fit.CircleFit, error) {
		return fit.Circle2DTo(pts, o)
	})
}

// Circle fits a circle in space: what does not belong to its plane is left out, then
// what does not belong to the circle in it.
func Circle(pts []r3.Vector, opt Options) (fit.CircleFit, Outliers, error) {
	plane, out, err := To(fit.KindPlane, pts, Options{Seed: opt.Seed})
	if err != nil {
		return fit.CircleFit{}, out, err
	}
	across := opt
	across.Fit.Direction = plane.(fit.PlaneFit).Normal
	on, err := outliers(fit.KindCylinder, pts, across)
	if on.Weights != nil {
		kept := 0.0
		on.Count = 0
		for i, w := range on.Weights {
			on.note(i, out.Weights[i]*w)
			kept += on.Weights[i]
		}
		on.Share = 1 - kept/float64(len(pts))
		on.Noise = max(out.Noise, on.Noise)
	}
	return weighted(on, err, opt, func(o fit.Options) (fit.CircleFit, error) {
		return fit.CircleTo(pts, o)
	})
}

// weighted fits by least squares with the weights of out, if there are any.
func weighted[F any](out Outliers, err error, opt Options,
	to func(fit.Options) (F, error)) (f F, _ Outliers, _ error) {
	if out.Weights == nil {
		return f, out, err
	}
	opt.Fit.Weights = out.Weights
	f, bad := to(opt.Fit)
	return f, out, cmp.Or(bad, err)
}

// note sets the probability of point i and counts it if it is an outlier.
func (o *Outliers) note(i int, p float64) {
	if p < 0.5 {
		o.Count++
	}
	if p < least {
		p = 0
	}
	o.Weights[i] = p
}

// search is a robust search for a surface of one kind.
type search struct {
	kind    fit.Kind
	opt     Options
	samples int
	need    int // points that fix a shape
}

// outliers finds the surface that most points agree on, and what each point has to do
// with it. Weights is nil where there is none.
func outliers(kind fit.Kind, pts []r3.Vector, opt Options) (Outliers, error) {
	s := &search{kind: kind, opt: opt, samples: samples, need: kind.Params()}
	seeks := kind == fit.KindCone
	if kind == fit.KindCylinder {
		if seeks = opt.Fit.Direction == (r3.Vector{}); !seeks {
			s.need = 3
		}
	}
	if seeks {
		s.samples, s.need = searched, searchedPoints
	}
	if few := kind.Params(); len(pts) < min(few, s.need) {
		return Outliers{}, &fit.TooFewError{Feature: kind.String(), Got: len(pts),
			Need: min(few, s.need)}
	}
	grain := 0.0
	for i, p := range pts {
		if !geom.Finite(p) {
			return Outliers{}, &fit.InputError{Feature: kind.String(), Index: i, Point: p,
				Reason: "not a finite number"}
		}
		grain = max(grain, p.Norm()*0x1p-53)
	}
	shape := s.highBreakdown(pts)
	if shape == nil {
		return Outliers{}, fmt.Errorf("fit %v: %w: no sample of the points fixes one",
			kind, fit.ErrDegenerate)
	}
	out := s.mixture(shape, pts, grain)
	// Do the outliers agree on another one?
	var rest []r3.Vector
	for i, w := range out.Weights {
		if w < 0.5 {
			rest = append(rest, pts[i])
		}
	}
	own := len(pts) - len(rest)
	if len(rest) < max(s.need+rivalSpare, int(rival*float64(own))) {
		return out, nil
	}
	if other := s.highBreakdown(rest); other != nil {
		on := 0
		for _, q := range rest {
			if math.Abs(other.Distance(q)) <= rivalWidth*out.Noise {
				on++
			}
		}
		if float64(on) >= rival*float64(own) {
			return out, &AmbiguousError{kind.String(), own, on}
		}
	}
	return out, nil
}

// highBreakdown draws minimal samples and returns the shape with the least trimmed
// spread; nil where there is none.
func (s *search) highBreakdown(pts []r3.Vector) fit.Shape {
	rng := rand.New(rand.NewPCG(s.opt.Seed, 0x5707face))
	small, few := some(rng, pts, cPoints), some(rng, pts, rankPoints)
	abs := make([]float64, max(len(small), len(few)))
	type ranked struct {
		s    fit.Shape
		size float64
	}
	var top []ranked
	at := make([]r3.Vector, s.need)
	for range s.samples {
		for k := range at {
			at[k] = pts[rng.IntN(len(pts))]
		}
		o := s.opt.Fit
		o.MaxIter = searchedSteps
		if shape := usable(fit.To(s.kind, at, o)); shape != nil {
			if size := s.quantile(shape, few, abs); !math.IsNaN(size) {
				top = append(top, ranked{shape, size})
			}
		}
	}
	slices.SortStableFunc(top, func(a, b ranked) int { return cmp.Compare(a.size, b.size) })
	top = top[:min(keep, len(top))]
	// C-steps: refit to those with the least residuals, a few times.
	var out fit.Shape
	best := math.Inf(1)
	w := make([]float64, len(small))
	for _, t := range top {
		var trimmed float64
		for range cSteps {
			cut := s.quantile(t.s, small, abs)
			var n, ss float64
			for i, q := range small {
				w[i] = 0
				if v := t.s.Distance(q); math.Abs(v) <= cut {
					w[i] = 1
					n++
					ss += v * v
				}
			}
			trimmed = ss / n
			next := s.refit(t.s, small, w)
			if next == nil {
				break
			}
			t.s = next
		}
		if trimmed < best {
			best, out = trimmed, t.s
		}
	}
	return out
}

// some returns n of the points, one from each of n equal runs, or all.
func some(rng *rand.Rand, pts []r3.Vector, n int) []r3.Vector {
	if len(pts) <= n+n/2 {
		return pts
	}
	out := make([]r3.Vector, n)
	for i := range out {
		lo, hi := i*len(pts)/n, (i+1)*len(pts)/n
		out[i] = pts[lo+rng.IntN(hi-lo)]
	}
	return out
}

// quantile is the distance within which as many points lie as must agree on a shape.
func (s *search) quantile(shape fit.Shape, pts []r3.Vector, abs []float64) float64 {
	n := len(pts)
	abs = abs[:n]
	for i, q := range pts {
		if abs[i] = math.Abs(shape.Distance(q)); math.IsNaN(abs[i]) {
			return math.NaN()
		}
	}
	return geom.Nth(abs, min(n, int(quorum*float64(n))+(s.need+1)/2)-1)
}

// refit returns the weighted least squares near a shape, or nil.
func (s *search) refit(shape fit.Shape, pts []r3.Vector, w []float64) fit.Shape {
	o := s.opt.Fit
	o.Weights, o.MaxIter = w, refitSteps
	return usable(fit.From(shape, pts, o))
}

// usable returns the shape of a fit, be it measured or not; nil where there is none.
func usable(f fit.Fit, err error) fit.Shape {
	if fit.Usable(err) {
		return f.Surface()
	}
	return nil
}

// mixture maximises the likelihood of noise and outliers from a start. grain, mm, is
// what the points' coordinates are sure to.
func (s *search) mixture(shape fit.Shape, pts []r3.Vector, grain float64) Outliers {
	n := len(pts)
	r, abs := make([]float64, n), make([]float64, n)
	for i, q := range pts {
		r[i] = shape.Distance(q)
		abs[i] = math.Abs(r[i])
	}
	slices.Sort(abs)
	// Outliers make quartile and median those of more than a quarter and a half of
	// the points that belong.
	sigma := max(min(abs[n/4]/quartile, abs[n/2]/median), grain)
	w, p := make([]float64, n), make([]float64, n)
	var dens [2]float64 // of outliers next to the shape, below and above it
	share := startShare
	for round := range rounds {
		if round == 0 {
			d := startDensity / max(abs[n-1], to*sigma)
			dens = [2]float64{d, d}
		} else {
			dens, share = density(r, p, sigma)
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
		free := sum - float64(s.need)
		if free < 1 {
			break
		}
		sigma = max(math.Sqrt(ss/free), grain)
		in := 0
		for i, q := range p {
			w[i] = 0
			if q >= least {
				w[i] = q
				in++
			}
		}
		if in < s.need {
			break
		}
		next := s.refit(shape, pts, w)
		if next == nil || round > 1 && moved < settled {
			break
		}
		shape = next
		for i, q := range pts {
			r[i] = shape.Distance(q)
		}
	}
	out := Outliers{Weights: p, Noise: sigma, Share: share}
	for i, q := range p {
		out.note(i, q)
	}
	return out
}

// density estimates how dense outliers are next to the shape, per mm of residual and
// point, on each side, and their share of the points. What is needed is the density
// where good and bad meet, some three standard deviations out: it is counted there,
// less the good ones to be expected, with what an even spread out to the furthest
// would put there as a prior worth one count. A burr that lies apart leaves the gap
// empty, a chamfer fills it.
func density(r, p []float64, sigma float64) (dens [2]float64, share float64) {
	n := float64(len(r))
	var furthest, seen, bad [2]float64
	for i, v := range r {
		k, a := side(v), math.Abs(v)
		furthest[k] = max(furthest[k], a)
		bad[k] += 1 - p[i]
		if a > from*sigma && a <= to*sigma {
			seen[k]++
		}
	}
	share = min((bad[0]+bad[1])/n, maxShare)
	for k := range dens {
		even := bad[k] / max(furthest[k], to*sigma) * (to - from) * sigma
		found := max(seen[k]-tail*n*(1-share), 0)
		count := 0.0
		if even > 0 {
			count = (1 + found) / (1/even + 1)
		}
		dens[k] = max(count, leastCount) / (n * (to - from) * sigma)
	}
	return dens, share
}

func side(v float64) int {
	if v > 0 {
		return 1
	}
	return 0
}
