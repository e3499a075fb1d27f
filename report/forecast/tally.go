package forecast

import (
	"math"
	"slices"

	"github.com/golang/geo/r1"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/report"
	"spotface/report/check"
)

// mean of values, each from a trial of its own.
type mean []float64

func (m *mean) add(v float64) { *m = append(*m, v) }

func (m mean) value() float64 {
	if len(m) == 0 {
		return 0
	}
	return stat.Mean(m, nil)
}

// err is the standard error; infinite for one trial, which says nothing of its scatter.
func (m mean) err() float64 {
	if len(m) < 2 {
		return math.Inf(1)
	}
	return stat.StdErr(stat.StdDev(m, nil), float64(len(m)))
}

// share is the standard error as a share of the mean; 0 where nothing was seen.
func (m mean) share() float64 {
	if len(m) == 0 {
		return 0
	}
	return m.err() / m.value()
}

// tally gathers one characteristic over all trials.
type tally struct {
	first  group // the first that was measured
	count  int   // of it on one part
	trials int
	whole  int           // trials in which all of it was measured
	mean   [figures]mean // of all of it on one part
	errors []float64     // sizes of all errors
}

// Figures of one characteristic.
const (
	total    = iota // expanded uncertainty
	fromScan        // its parts
	fromPlan
	covered // 1 where the error is within fromScan, else 0
	good    // how likely a good part is called conforming
	bad     // and a bad one nonconforming
	figures
)

// tallies gathers the groups of all outcomes in the order in which they come up.
func tallies(outcomes []outcome, rule report.Rule) []*tally {
	var all []*tally
	for i := range outcomes {
		for k := range outcomes[i].groups {
			g := &outcomes[i].groups[k]
			at := slices.IndexFunc(all, func(t *tally) bool { return t.first.is(g.feature, g.what) })
			if at < 0 {
				at, all = len(all), append(all, &tally{first: *g})
			}
			all[at].add(g, rule)
		}
	}
	return all
}

func (t *tally) add(g *group, rule report.Rule) {
	t.trials++
	t.count = max(t.count, len(g.read)+g.missing)
	if len(g.read) == 0 {
		return
	}
	if len(t.first.read) == 0 {
		t.first = *g
	}
	if g.missing == 0 {
		t.whole++
	}
	var sum [figures]float64
	limits := band(g.lower, g.upper)
	for _, r := range g.read {
		of := [figures]float64{total: r.total, fromScan: r.scan, fromPlan: r.plan}
		of[good], of[bad] = called(r, limits, rule)
		if math.Abs(r.deviation) <= r.scan {
			of[covered] = 1
		}
		floats.Add(sum[:], of[:])
		t.errors = append(t.errors, math.Abs(r.deviation))
	}
	for k := range sum {
		t.mean[k].add(sum[k] / float64(len(g.read)))
	}
}

func band(lower, upper *float64) r1.Interval {
	b := r1.Interval{Lo: math.Inf(-1), Hi: math.Inf(1)}
	if lower != nil {
		b.Lo = *lower
	}
	if upper != nil {
		b.Hi = *upper
	}
	return b
}

// called returns how likely a good part is called conforming and a bad one
// nonconforming, given the error and the uncertainty of one simulated reading.
//
// Between two limits the good part lies in the middle of the band, the bad one
// half a band's width beyond a limit; the reading's error is moved to where they
// are, which is exact for what a check judges as a difference from a nominal. A
// form error or a zone has one limit: there the good part is perfect, as
// simulated, and the bad one 1.5 times what is allowed; its reading is taken as
// normal about that with the stated uncertainty.
func called(r reading, b r1.Interval, rule report.Rule) (good, bad float64) {
	is := func(deviation float64, want report.Verdict) float64 {
		if check.Decide(deviation, r.total, b, rule) == want {
			return 1
		}
		return 0
	}
	switch {
	case zone(b):
		guard := r.total
		if rule == report.SimpleAcceptance {
			guard = 0
		}
		return is(r.deviation, report.Conforming),
			distuv.UnitNormal.CDF((0.5*b.Hi - guard) * r.factor / r.total)
	case twoSided(b):
		half := b.Length() / 2
		return is(b.Center()+r.deviation, report.Conforming),
			(is(b.Hi+half+r.deviation, report.Nonconforming) +
				is(b.Lo-half+r.deviation, report.Nonconforming)) / 2
	}
	return 0, 0
}

// zone reports whether b is that of a form error: no part is too good.
func zone(b r1.Interval) bool { return math.IsInf(b.Lo, -1) && !math.IsInf(b.Hi, 0) }

func twoSided(b r1.Interval) bool { return !math.IsInf(b.Lo, 0) && !math.IsInf(b.Hi, 0) }

// expected is what the tally says.
func (t *tally) expected() Expected {
	g := &t.first
	e := Expected{Feature: g.feature, Characteristic: g.what, Count: t.count, Unit: g.unit,
		Lower: g.lower, Upper: g.upper, Seen: float64(t.whole) / float64(t.trials), Answer: NotSeen}
	if len(t.mean[total]) == 0 {
		return e
	}
	e.Uncertainty, e.UncertaintyError = t.mean[total].value(), finite(t.mean[total].err())
	e.FromScan, e.FromPlan = t.mean[fromScan].value(), t.mean[fromPlan].value()
	e.Actual, e.Covered = within95(t.errors), t.mean[covered].value()
	ratio, ok := t.ratio()
	if !ok {
		e.Answer = Open
		return e
	}
	good, bad := t.mean[good].value(), t.mean[bad].value()
	e.Ratio, e.GoodConforming, e.BadNonconforming = &ratio, &good, &bad
	switch {
	case e.Seen < 0.5:
	case min(good, bad, e.Seen) >= enough:
		e.Answer = Yes
	case good == 0:
		e.Answer = No
	default:
		e.Answer = Partly
	}
	return e
}

// ratio is half the band, or the zone, over the mean stated uncertainty; false without
// limits.
func (t *tally) ratio() (float64, bool) {
	b := band(t.first.lower, t.first.upper)
	half := b.Length() / 2
	if zone(b) {
		half = b.Hi
	}
	return half / t.mean[total].value(), zone(b) || twoSided(b)
}

func finite(v float64) float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0
	}
	return v
}

// worst is the largest standard error of a mean stated uncertainty, as a share of it; 0
// where nothing was seen. Allowed for is that in a wide band it matters less: a good part
// passes from a ratio of about 2 on, so that beyond it the error counts by its share of half
// of half the band, to a limit.
func worst(all []*tally) (share, allowedFor float64) {
	for _, t := range all {
		s, counts := t.mean[total].share(), 1.0
		if ratio, ok := t.ratio(); ok {
			counts = min(max(1, ratio/2), mostAllowed)
		}
		share, allowedFor = max(share, s), max(allowedFor, s/counts)
	}
	return share, allowedFor
}

// within95 is what 95 % of the sizes of errors do not exceed. Unlike a multiple of
// their root mean square it is not made by the few worst.
func within95(sizes []float64) float64 {
	return stat.Quantile(0.95, stat.Empirical, slices.Sorted(slices.Values(sizes)), nil)
}
