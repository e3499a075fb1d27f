package forecast

import (
	"math"
	"slices"

	"github.com/golang/geo/r1"
	"gonum.org/v1/gonum/stat/distuv"

	"spotface/report"
	"spotface/report/check"
)

// mean of values with its standard error, each value from a trial of its own.
type mean struct{ n, sum, sum2 float64 }

func (m *mean) add(v float64) { m.n, m.sum, m.sum2 = m.n+1, m.sum+v, m.sum2+v*v }

func (m *mean) value() float64 {
	if m.n == 0 {
		return 0
	}
	return m.sum / m.n
}

// err is s/√n with the trials' own standard deviation s; infinite for one trial.
func (m *mean) err() float64 {
	if m.n < 2 {
		return math.Inf(1)
	}
	v := max(0, m.sum2-m.sum*m.sum/m.n) / (m.n - 1)
	return math.Sqrt(v / m.n)
}

// tally gathers one characteristic over all trials.
type tally struct {
	first             group // the first that was measured
	count             int   // of it on one part
	trials            int
	whole             int // trials in which all of it was measured
	total, scan, plan mean
	error, covered    mean
	errors            []float64 // sizes of all errors
	good, bad         mean
	place             []mean // of total, by its place in the order of the check
}

// tallies gathers the groups of all outcomes in the order in which they come up.
func tallies(outcomes []outcome, rule report.Rule) []*tally {
	var all []*tally
	for i := range outcomes {
		for k := range outcomes[i].groups {
			g := &outcomes[i].groups[k]
			var t *tally
			for _, known := range all {
				if known.first.feature == g.feature && known.first.what == g.what {
					t = known
				}
			}
			if t == nil {
				t = &tally{first: *g}
				all = append(all, t)
			}
			t.add(g, rule)
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
	var total, scan, plan, err, covered, good, bad float64
	n := float64(len(g.read))
	limits := band(g.lower, g.upper)
	for i, r := range g.read {
		total += r.total / n
		scan += r.scan / n
		plan += r.plan / n
		err += r.deviation / n
		t.errors = append(t.errors, math.Abs(r.deviation))
		if math.Abs(r.deviation) <= r.scan {
			covered += 1 / n
		}
		gd, bd := told(r, limits, rule)
		good += gd / n
		bad += bd / n
		if i == len(t.place) {
			t.place = append(t.place, mean{})
		}
		t.place[i].add(r.total)
	}
	t.total.add(total)
	t.scan.add(scan)
	t.plan.add(plan)
	t.error.add(err)
	t.covered.add(covered)
	t.good.add(good)
	t.bad.add(bad)
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

// told returns how likely a good part is told conforming and a bad one
// nonconforming, given the error and the uncertainty of one simulated reading.
//
// Between two limits the good part lies in the middle of the band, the bad one
// half a band's width beyond a limit; the reading's error is moved to where they
// are, which is exact for what a check judges as a difference from a nominal. A
// form error or a zone has one limit: there the good part is perfect, as
// simulated, and the bad one 1.5 times what is allowed; its reading is taken as
// normal about that with the stated uncertainty.
func told(r reading, b r1.Interval, rule report.Rule) (good, bad float64) {
	is := func(deviation float64, want report.Verdict) float64 {
		if check.Decide(deviation, r.total, b, rule) == want {
			return 1
		}
		return 0
	}
	switch {
	case zone(b):
		good = is(r.deviation, report.Conforming)
		guard := r.total
		if rule == report.SimpleAcceptance {
			guard = 0
		}
		bad = distuv.UnitNormal.CDF((0.5*b.Hi - guard) * r.factor / r.total)
	case twoSided(b):
		middle, width := b.Center(), b.Length()
		good = is(middle+r.deviation, report.Conforming)
		bad = (is(b.Hi+width/2+r.deviation, report.Nonconforming) + is(b.Lo-width/2+r.deviation, report.Nonconforming)) / 2
	}
	return good, bad
}

// zone reports whether b is that of a form error: no part is too good.
func zone(b r1.Interval) bool { return math.IsInf(b.Lo, -1) && !math.IsInf(b.Hi, 0) }

func twoSided(b r1.Interval) bool { return !math.IsInf(b.Lo, 0) && !math.IsInf(b.Hi, 0) }

// expected is what the tally says.
func (t *tally) expected() Expected {
	g := &t.first
	e := Expected{Feature: g.feature, Characteristic: g.what, Count: t.count, Unit: g.unit,
		Lower: g.lower, Upper: g.upper, Seen: float64(t.whole) / float64(t.trials), Answer: NotSeen}
	if t.total.n == 0 {
		return e
	}
	e.Uncertainty, e.UncertaintyError = t.total.value(), finite(t.total.err())
	for i := range t.place {
		if v := t.place[i].value(); t.place[i].n > 1 && v > 1.1*e.Uncertainty {
			e.Largest = max(e.Largest, v)
		}
	}
	e.FromScan, e.FromPlan = t.scan.value(), t.plan.value()
	e.Actual, e.Bias, e.Covered = within95(t.errors), t.error.value(), t.covered.value()
	e.CoveredError = finite(t.covered.err())
	b := band(g.lower, g.upper)
	switch {
	case zone(b):
		e.ratio(b.Hi / e.Uncertainty)
		e.BadDeviation = 1.5 * b.Hi
	case twoSided(b):
		e.ratio(b.Length() / 2 / e.Uncertainty)
		e.BadDeviation = b.Hi + b.Length()/2
	default:
		e.Answer = Open
		return e
	}
	good, bad := t.good.value(), t.bad.value()
	e.GoodConforming, e.BadNonconforming = &good, &bad
	switch {
	case e.Seen < 0.5:
	case good >= enough && bad >= enough && e.Seen >= enough:
		e.Answer = Yes
	case good == 0:
		e.Answer = No
	default:
		e.Answer = Partly
	}
	return e
}

// enough is the chance from which on a forecast says yes.
const enough = 0.95

func (e *Expected) ratio(v float64) { e.Ratio = &v }

func finite(v float64) float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0
	}
	return v
}

// stable reports whether the mean stated uncertainty of each characteristic that
// was seen at all is known within precision, as a share of it, one standard error.
func stable(all []*tally, precision float64) bool { return worst(all) <= precision }

// worst is the largest standard error of a mean stated uncertainty, as a share of
// it; 0 where nothing was seen.
func worst(all []*tally) float64 {
	w := 0.0
	for _, t := range all {
		if t.total.n > 0 {
			w = max(w, t.total.err()/t.total.value())
		}
	}
	return w
}

// within95 is what 95 % of the sizes of errors do not exceed. Unlike a multiple of
// their root mean square it is not made by the few worst.
func within95(sizes []float64) float64 {
	sorted := slices.Sorted(slices.Values(sizes))
	return sorted[min(len(sorted)-1, int(math.Ceil(0.95*float64(len(sorted))))-1)]
}

// clocking gathers that of the main circle: the stated uncertainty, the sizes of
// the errors, the points on a hole's wall and in a scan.
type clocking struct {
	stated, onHole, points mean
	errors                 []float64
}

func clockTally(outcomes []outcome) clocking {
	var c clocking
	for i := range outcomes {
		o := &outcomes[i]
		c.points.add(float64(o.points))
		if len(o.clocking) == 0 {
			continue
		}
		u := 0.0
		for _, r := range o.clocking {
			u += r.scan / float64(len(o.clocking))
			c.errors = append(c.errors, math.Abs(r.deviation))
		}
		c.stated.add(u)
		c.onHole.add(o.onHole)
	}
	return c
}
