package forecast

import (
	"math"
	"slices"
	"strings"

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

// tally gathers one characteristic, of a circle's holes that of all, over all trials.
type tally struct {
	feature string
	first   report.Result // of the first scan that shows it
	scans   []scanned
	errors  []float64 // sizes of all errors
}

// scanned is what one scan shows of a characteristic.
type scanned struct {
	trial         int
	seen, missing int // missing: not found, or found without an uncertainty
	sum           [figures]float64
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

// tallies gathers the results of all outcomes in the order in which they come up.
func tallies(outcomes []outcome, rule report.Rule) []*tally {
	var all []*tally
	for trial, o := range outcomes {
		for i := range o.results {
			r := &o.results[i]
			feature, _, _ := strings.Cut(r.alone.Feature, "/")
			at := slices.IndexFunc(all, func(t *tally) bool {
				return t.feature == feature && t.first.Characteristic == r.alone.Characteristic
			})
			if at < 0 {
				at, all = len(all), append(all, &tally{feature: feature, first: r.alone})
			}
			all[at].add(trial, r, rule)
		}
	}
	return all
}

func (t *tally) add(trial int, r *judged, rule report.Rule) {
	if n := len(t.scans); n == 0 || t.scans[n-1].trial != trial {
		t.scans = append(t.scans, scanned{trial: trial})
	}
	s := &t.scans[len(t.scans)-1]
	known := func(r *report.Result) bool { return r.Deviation != nil && r.Uncertainty > 0 }
	if !known(&r.alone) || !known(&r.full) {
		s.missing++
		return
	}
	if len(t.errors) == s.seen { // of a circle the last hole, whose zone its position is
		t.first = r.alone
	}
	size := math.Abs(*r.alone.Deviation)
	t.errors = append(t.errors, size)
	of := [figures]float64{total: r.full.Uncertainty, fromScan: r.alone.Uncertainty,
		fromPlan: r.full.FromPlan}
	of[good], of[bad] = called(r, band(r.alone.Lower, r.alone.Upper), rule)
	if size <= r.alone.Uncertainty {
		of[covered] = 1
	}
	floats.Add(s.sum[:], of[:])
	s.seen++
}

// of is a figure of all of it on one part, in each scan that shows any.
func (t *tally) of(figure int) (m mean) {
	for _, s := range t.scans {
		if s.seen > 0 {
			m.add(s.sum[figure] / float64(s.seen))
		}
	}
	return m
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
func called(r *judged, b r1.Interval, rule report.Rule) (good, bad float64) {
	off, u := *r.alone.Deviation, r.full.Uncertainty
	is := func(deviation float64, want report.Verdict) float64 {
		if check.Decide(deviation, u, b, rule) == want {
			return 1
		}
		return 0
	}
	switch {
	case zone(b):
		guard := u
		if rule == report.SimpleAcceptance {
			guard = 0
		}
		return is(off, report.Conforming),
			distuv.UnitNormal.CDF((0.5*b.Hi - guard) * r.full.CoverageFactor / u)
	case twoSided(b):
		half := b.Length() / 2
		return is(b.Center()+off, report.Conforming),
			(is(b.Hi+half+off, report.Nonconforming) +
				is(b.Lo-half+off, report.Nonconforming)) / 2
	}
	return 0, 0
}

// zone reports whether b is that of a form error: no part is too good.
func zone(b r1.Interval) bool { return math.IsInf(b.Lo, -1) && !math.IsInf(b.Hi, 0) }

func twoSided(b r1.Interval) bool { return !math.IsInf(b.Lo, 0) && !math.IsInf(b.Hi, 0) }

// expected is what the tally says.
func (t *tally) expected() Expected {
	r, whole := &t.first, 0
	e := Expected{Feature: t.feature, Characteristic: r.Characteristic, Answer: NotSeen}
	for _, s := range t.scans {
		e.Count = max(e.Count, s.seen+s.missing)
		if s.missing == 0 {
			whole++
		}
	}
	e.Seen = float64(whole) / float64(len(t.scans))
	stated := t.of(total)
	if len(stated) == 0 {
		return e
	}
	e.Unit, e.Lower, e.Upper = r.Unit, r.Lower, r.Upper
	e.Uncertainty, e.UncertaintyError = stated.value(), finite(stated.err())
	e.FromScan, e.FromPlan = t.of(fromScan).value(), t.of(fromPlan).value()
	e.Actual, e.Covered = within95(t.errors), t.of(covered).value()
	ratio, ok := t.ratio()
	if !ok {
		e.Answer = Open
		return e
	}
	good, bad := t.of(good).value(), t.of(bad).value()
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
	b := band(t.first.Lower, t.first.Upper)
	half := b.Length() / 2
	if zone(b) {
		half = b.Hi
	}
	return half / t.of(total).value(), zone(b) || twoSided(b)
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
		s, counts := t.of(total).share(), 1.0
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
