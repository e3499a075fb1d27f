package report

import (
	"fmt"
	"math"
	"strings"

	"spotface/bolt"
	"spotface/report/wording"
)

// headline says what the reader wants to know: the pattern, what is off in it,
// and the verdict; below it the characteristics that failed.
func (t *text) headline() {
	name := t.rep.Scan.File
	if name == "" {
		name = "scan"
	}
	s := name + ": " + t.pattern()
	if t.rep.Verdict != "" {
		s += ": " + strings.ToUpper(string(t.rep.Verdict))
	}
	t.paragraph(s+".", "  ")
	if t.rep.Verdict == "" {
		return
	}
	groups := []struct {
		verdict Verdict
		head    string
	}{{Missing, "Missing"}, {Nonconforming, "Out of band"}, {Indeterminate, "This scan cannot tell"}}
	for _, g := range groups {
		items := sentences(t.rep.Results, g.verdict)
		if len(items) == 0 {
			continue
		}
		t.line(g.head, ":")
		for _, it := range items {
			t.b.WriteString("  ")
			t.paragraph(it, "    ")
		}
	}
	if t.rep.Verdict == Conforming {
		s := "The one characteristic judged lies within its band."
		if n := len(t.rep.Results); n > 1 {
			s = fmt.Sprintf("All %s judged lie within their bands.", things(n, "characteristic"))
		}
		t.paragraph(s, "")
	}
}

// pattern describes the main bolt circle in half a sentence.
func (t *text) pattern() string {
	c := t.rep.mainCircle()
	if c == nil {
		slots := 0
		for _, h := range t.rep.Holes {
			if h.Kind == string(bolt.Slot) {
				slots++
			}
		}
		switch round := len(t.rep.Holes) - slots; {
		case slots == 0 && round == 0:
			return "no holes found"
		case slots == 0:
			return things(round, "hole") + " found, but no three equal ones on a circle"
		case round == 0:
			return things(slots, "slot") + " found"
		default:
			return things(round, "hole") + " and " + things(slots, "slot") + " found, but no three equal holes on a circle"
		}
	}
	s := things(len(c.Holes), "hole")
	n := c.Nominal
	switch {
	case n == nil && c.regularToPlan():
		s += " against the plan's angles"
	case n == nil:
		return s + " on a circle, in no regular pattern"
	default:
		s += fmt.Sprintf(" at %s degrees", wording.Short(n.SpacingDeg))
		if !n.FullRing {
			s += " (part of a ring)"
		}
		if k := len(n.Missing); k > 0 {
			places := make([]string, k)
			for i, a := range n.Missing {
				places[i] = wording.Short(a)
			}
			s += fmt.Sprintf(", no hole at %s degrees", wording.List(places))
		}
	}
	so := c.Standouts
	switch {
	case so == nil && !c.withinU():
		return s + fmt.Sprintf(", deviations up to %s degrees", fixed(c.worstDeviation(), 3))
	case so == nil:
	case so.Scatter:
		return s + fmt.Sprintf(", but scattered about them by up to %s degrees", fixed(c.worstDeviation(), 2))
	case len(so.Holes) == 1:
		return s + fmt.Sprintf(", one of them (%s) %s", so.Holes[0].Hole, so.Holes[0].amount())
	case len(so.Holes) > 1:
		parts := make([]string, len(so.Holes))
		for i, h := range so.Holes {
			parts[i] = h.Hole + " " + h.amount()
		}
		return s + ", " + word(len(so.Holes)) + " of them off: " + wording.List(parts)
	}
	return s + fmt.Sprintf(", all in place as far as this scan can tell (%s degrees)", strings.TrimSpace(plusMinus(c.largestU(), 3)))
}

// regularToPlan reports whether the circle has nominal angles though no regular
// pattern.
func (c *BoltCircle) regularToPlan() bool {
	return len(c.Clocking) > 0 && c.Clocking[0].NominalDeg != nil
}

// withinU reports whether every hole is where the pattern puts it within its
// uncertainty.
func (c *BoltCircle) withinU() bool {
	for _, k := range c.Clocking {
		if k.DeviationDeg == nil || math.Abs(*k.DeviationDeg) > k.UncertaintyDeg {
			return false
		}
	}
	return true
}

func (c *BoltCircle) worstDeviation() float64 {
	w := 0.0
	for _, k := range c.Clocking {
		if k.DeviationDeg != nil {
			w = max(w, math.Abs(*k.DeviationDeg))
		}
	}
	return w
}

func (c *BoltCircle) largestU() float64 {
	w := 0.0
	for _, k := range c.Clocking {
		w = max(w, k.UncertaintyDeg, k.FromOthersUncertaintyDeg)
	}
	return w
}

// amount says how far a hole stands out: "0.40 degrees off", "0.15 mm too far
// out".
func (s Standout) amount() string {
	var parts []string
	if s.Turned {
		parts = append(parts, fixed(math.Abs(s.Deg), 2)+" degrees off")
	}
	if s.Shifted {
		way := "out"
		if s.Out < 0 {
			way = "in"
		}
		parts = append(parts, fixed(math.Abs(s.Out), 2)+" mm too far "+way)
	}
	return wording.List(parts)
}

// sentences tells the results of one verdict, one line each. More than three like
// ones (a characteristic of the holes of one circle) are told as one, by the
// worst. A missing feature is told once.
func sentences(results []Result, v Verdict) []string {
	var out []string
	for _, g := range likeResults(results, v) {
		if v == Missing {
			out = append(out, g[0].Feature+": "+g[0].Why)
			continue
		}
		if len(g) <= 3 {
			for _, r := range g {
				out = append(out, r.sentence())
			}
			continue
		}
		worst := g[0]
		for _, r := range g {
			if r.Probability != nil && worst.Probability != nil && *r.Probability < *worst.Probability {
				worst = r
			}
		}
		out = append(out, fmt.Sprintf("%s of %d in circle %s, worst %s",
			strings.ReplaceAll(string(worst.Characteristic), "_", " "), len(g), worst.parent(), worst.sentence()))
	}
	return out
}

// likeResults groups the results of one verdict by circle and characteristic, a
// missing feature's all together, in the order they stand.
func likeResults(results []Result, v Verdict) [][]*Result {
	var groups [][]*Result
	at := make(map[string]int)
	for i := range results {
		r := &results[i]
		if r.Verdict != v {
			continue
		}
		key := r.parent() + "|" + string(r.Characteristic)
		if v == Missing {
			key = r.Feature
		} else if r.parent() == "" {
			key = fmt.Sprint(i)
		}
		k, ok := at[key]
		if !ok {
			k = len(groups)
			at[key] = k
			groups = append(groups, nil)
		}
		groups[k] = append(groups[k], r)
	}
	return groups
}

// parent is the circle that a hole's result belongs to, or "".
func (r *Result) parent() string {
	if circle, _, ok := strings.Cut(r.Feature, "/"); ok {
		return circle
	}
	return ""
}

// sentence is the result in a line: feature, characteristic, number, band.
func (r *Result) sentence() string {
	s := r.Feature
	if r.Matched != "" {
		s += fmt.Sprintf(" (%s here)", r.Matched)
	}
	s += " " + strings.ReplaceAll(string(r.Characteristic), "_", " ")
	if r.Measured != nil {
		d, u := decimals(r.Uncertainty), plusMinus(r.Uncertainty, decimals(r.Uncertainty))
		switch angle := r.Unit == "deg"; {
		case angle && r.Nominal != nil && r.Deviation != nil:
			s += fmt.Sprintf(" %s%s degrees from %s", signed(*r.Deviation, d), u, wording.Short(*r.Nominal))
		case r.Nominal != nil && *r.Nominal != 0 && r.Deviation != nil:
			s += fmt.Sprintf(" %s mm, %s%s from %s", fixed(*r.Measured, d), signed(*r.Deviation, d), u, wording.Short(*r.Nominal))
		default:
			s += " " + fixed(*r.Measured, d) + u + " " + r.unitWord()
		}
		s += " (band " + wording.Band(r.Lower, r.Upper) + ")"
	}
	if r.Why != "" {
		s += ": " + r.Why
	}
	return s
}

func (r *Result) unitWord() string {
	if r.Unit == "deg" {
		return "degrees"
	}
	return r.Unit
}
