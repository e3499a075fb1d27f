package bolt

import (
	"cmp"
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"spotface/mesh/parallel"
)

// Candidates whose largest radius is less than likeRadius times the smallest have one
// noise, and so do those between whose radii there is no gap of clearGap. (Chosen: 2 is
// well within what the kernels of one radius cover, a bore is beyond it.)
const likeRadius, clearGap = 2, 1.2

// weighAlike learns the noise of candidates of one kind, beside what the face shows of
// it, and weighs them by it. All of them show the noise, but what waves move a circle has
// to do with its radius, and the kernels tried are of its size: those of bolt holes leave
// out the waves that move a bore most, and it was stated 25 % too sure.
func weighAlike(ctx context.Context, cs []*candidate, known waves, jobs int) error {
	series := make([]arcSeries, len(cs))
	for i, c := range cs {
		series[i] = c.series
	}
	for _, class := range byRadius(cs) {
		var radii []float64
		for _, c := range class {
			radii = append(radii, c.series.radius)
		}
		noise, err := learnNoise(ctx, median(radii), series, known, jobs)
		if err != nil {
			return err
		}
		if err := noise.weigh(ctx, class, jobs); err != nil {
			return err
		}
	}
	return nil
}

// byRadius divides the candidates into those of like radius: at the widest gap, while they
// are not alike and there is one of clearGap; holes of one drill stay together.
func byRadius(cs []*candidate) [][]*candidate {
	order := slices.SortedStableFunc(slices.Values(cs), func(a, b *candidate) int {
		return cmp.Compare(a.series.radius, b.series.radius)
	})
	var divide func(cs []*candidate) [][]*candidate
	divide = func(cs []*candidate) [][]*candidate {
		if len(cs) == 0 {
			return nil
		}
		at, gap := 0, 1.0
		for k := 1; k < len(cs); k++ {
			if g := cs[k].series.radius / cs[k-1].series.radius; g > gap {
				at, gap = k, g
			}
		}
		if cs[len(cs)-1].series.radius < likeRadius*cs[0].series.radius || gap < clearGap {
			return [][]*candidate{cs}
		}
		return append(divide(cs[:at]), divide(cs[at:])...)
	}
	return divide(order)
}

// weigh turns the candidates' residuals into better centres and radii and their
// covariances, by what the noise of their kind is like; it drops those of which that
// makes no sense.
//
// Generalised least squares take the ends of arcs and walls for as good as their middles,
// but edges and shadows may bend ends. Where they do, both fits differ by more than the
// noise makes them differ, whose covariance is the difference of theirs (Hausman,
// Econometrica 46 (1978) 1251-1271, lemma 2.1). If the sum over all candidates is beyond
// what 95 of 100 sums would be within, taken for chi-squared with the sum's mean and
// variance (Satterthwaite, Biometrics Bulletin 2 (1946) 110-114; from memory), candidates
// for independent, least squares are taken for all; so they are where the covariance of
// one is too near to singular.
func (g arcNoise) weigh(ctx context.Context, cs []*candidate, jobs int) error {
	plain, fine := make([]estimate, len(cs)), make([]refined, len(cs))
	err := parallel.Chunks(ctx, jobs, len(cs), 1, func(k, _ int) {
		c := cs[k]
		e, ok := g.estimate(c.series)
		if !ok || math.Hypot(e.beta[0], e.beta[1])+math.Abs(e.beta[2]) > c.r/2 {
			c.dropped = true
			return
		}
		plain[k] = e
		if fine[k], ok = g.refine(c.series); !ok {
			fine[k].apart = math.Inf(1)
		}
	})
	if err != nil {
		return err
	}
	var apart, mean, variance float64
	for _, r := range fine {
		apart, mean, variance = apart+r.apart, mean+r.mean, variance+r.variance
	}
	better := false // nor where both fits are one and the same
	if mean > 0 && variance > 0 {
		scale := variance / (2 * mean)
		better = apart < scale*distuv.ChiSquared{K: mean / scale}.Quantile(0.95)
	}
	for k, c := range cs {
		if c.dropped {
			continue
		}
		e := plain[k]
		if better {
			// Where the radius is known from other holes the centre follows it half-way between
			// its own way and that of least squares. Its own is the best where the noise is as
			// it is thought to be, but leaves a half-seen centre to the arc's ends; half-way
			// loses a quarter of what the whole way does.
			best := fine[k].cov
			e.beta, e.cov = fine[k].beta, best
			for p := range e.follow {
				e.follow[p] = (e.follow[p] + best[p][2]/best[2][2]) / 2
			}
		}
		c.cov, c.follow, c.dof, c.unseen = e.cov, e.follow, e.dof, g.unseen
		c.own = wallSure{[2][2]float64{{e.cov[0][0], e.cov[0][1]}, {e.cov[1][0], e.cov[1][1]}}, fine[k].lean, e.dof}
		c.cov[2][2] += c.extraR * c.extraR
		c.x, c.y, c.r = c.x+e.beta[0], c.y+e.beta[1], c.r+e.beta[2]
	}
	return nil
}
