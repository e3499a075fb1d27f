package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"spotface/report/wording"
)

// judged lists every characteristic that the plan asks for, in the plan's order.
func (b *viewer) judged() {
	if len(b.results) == 0 {
		return
	}
	tab := &wording.Table{Head: []string{"<feature", "<characteristic", "<unit", "nominal",
		"measured", "off", "+-", "from", "to", "<verdict"}}
	for i := range b.results {
		r := &b.results[i]
		d := r.decimals()
		cell := func(v *float64, say func(float64) string) string {
			if v == nil {
				return ""
			}
			return say(*v)
		}
		u := ""
		if r.Uncertainty > 0 {
			u = wording.Limit(r.Uncertainty, d)
		}
		tab.Add(r.name(), plain(r.Characteristic), r.Unit, cell(r.Nominal, wording.Short),
			cell(r.Measured, func(v float64) string { return wording.Fixed(v, d) }),
			cell(r.Deviation, func(v float64) string { return raw(v, 0).rounded(d).Signed() }), u,
			cell(r.Lower, wording.Short), cell(r.Upper, wording.Short), string(r.Verdict))
	}
	b.v.Judged = tab
	b.detail("What the plan judges (off: measured less nominal; from, to: its band)", tab)
}

// name is "B1/H3", or "C1 (C2 here)" where the scan has another id for it.
func (r *Result) name() string {
	if r.Matched != "" {
		return fmt.Sprintf("%s (%s here)", r.Feature, r.Matched)
	}
	return r.Feature
}

// scanID is the feature's id in the scan.
func (r *Result) scanID() string {
	if r.Matched != "" {
		return r.Matched
	}
	return r.Feature
}

// sentences says the results of one verdict, one line each. More than three like
// ones (a characteristic of the holes of one circle) are one line, by the
// worst. A missing feature has one line.
func sentences(results []Result, v Verdict) []string {
	var out []string
	for _, g := range likeResults(results, func(r *Result) bool { return r.Verdict == v }) {
		if v == Missing {
			if s := g[0].Feature + ": " + g[0].Why; !slices.Contains(out, s) {
				out = append(out, s)
			}
			continue
		}
		if len(g) <= 3 {
			for _, r := range g {
				out = append(out, r.sentence())
			}
			continue
		}
		worst := slices.MinFunc(g,
			func(a, b *Result) int { return cmp.Compare(a.probability(), b.probability()) })
		out = append(out, fmt.Sprintf("%s of %d in circle %s, worst %s",
			plain(worst.Characteristic), len(g), worst.parent(), worst.sentence()))
	}
	return out
}

// probability of lying in the band, 1 where it is not known.
func (r *Result) probability() float64 {
	if r.Probability == nil {
		return 1
	}
	return *r.Probability
}

// plain is a characteristic in words: "pitch diameter".
func plain(c Characteristic) string { return strings.ReplaceAll(string(c), "_", " ") }

// likeResults groups those results that are wanted by circle and characteristic, each of a
// feature beside circles by itself, in their order.
func likeResults(results []Result, wanted func(*Result) bool) [][]*Result {
	var list []*Result
	for i := range results {
		if wanted(&results[i]) {
			list = append(list, &results[i])
		}
	}
	return gather(list, func(g []*Result, r *Result) bool {
		return r.parent() != "" && r.parent() == g[0].parent() && r.Characteristic == g[0].Characteristic
	})
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
	s := r.name() + " " + plain(r.Characteristic)
	if r.Measured != nil {
		d := r.decimals()
		u := wording.PlusMinus(r.Uncertainty, d)
		switch angle := r.Unit == "deg"; {
		case angle && r.Nominal != nil && r.Deviation != nil:
			s += fmt.Sprintf(" %s%s degrees from %s", wording.Signed(*r.Deviation, d), u,
				wording.Short(*r.Nominal))
		case r.Nominal != nil && *r.Nominal != 0 && r.Deviation != nil:
			s += fmt.Sprintf(" %s %s, %s%s from %s", wording.Fixed(*r.Measured, d), r.Unit,
				wording.Signed(*r.Deviation, d), u, wording.Short(*r.Nominal))
		default:
			s += " " + wording.Fixed(*r.Measured, d) + u + " " + r.unitWord()
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
