package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"spotface/report/wording"
)

// Budgets is the whole uncertainty budget of every kind of judged characteristic, each by
// the feature of its kind that is known worst: source, value, standard uncertainty u,
// distribution, degrees of freedom, sensitivity, what it contributes to the result's u, and
// its share of the variance, down to 0.05 %. The budgets of all features are in the JSON.
// Lengths are mm. Without a check there is none.
func Budgets(rep *Report) []Section {
	var out []Section
	for _, g := range likeResults(rep.Results, func(r *Result) bool { return len(r.Budget) > 0 }) {
		r := slices.MaxFunc(g,
			func(a, b *Result) int { return cmp.Compare(a.Uncertainty, b.Uncertainty) })
		head := fmt.Sprintf("Uncertainty of %s: %s", plain(r.Characteristic)+" "+r.name(), r.amount())
		if len(g) > 1 {
			head += fmt.Sprintf(", the largest of %d", len(g))
		}
		out = append(out, Section{Title: head, Table: r.budgetTable()})
	}
	if len(out) > 0 {
		out = append(out, Section{Title: "How to read this",
			Text: []string{"u is a standard uncertainty; +- is k times the combined one. " +
				"Sensitivity is the change of the result for a change of one unit of the " +
				"source, share that of the variance, dof the degrees of freedom where they are " +
				"few."}})
	}
	return out
}

// amount is "84.001 +-0.023 mm (k = 2)".
func (r *Result) amount() string {
	d := wording.Decimals(r.Uncertainty)
	s := fmt.Sprintf("%s +-%s %s (k = %s", wording.Fixed(*r.Measured, d),
		wording.Fixed(r.Uncertainty, d),
		r.Unit, trim(r.CoverageFactor, 2))
	if r.EffectiveDoF > 0 && r.EffectiveDoF < 100 && r.CoverageFactor > Coverage {
		s += fmt.Sprintf(", %.0f degrees of freedom", r.EffectiveDoF)
	}
	return s + ")"
}

func (r *Result) budgetTable() *wording.Table {
	tab := &wording.Table{Head: []string{"<source", "value", "<", "u", "<distribution", "dof",
		"sensitivity", "u " + r.Unit, "share"}}
	total := 0.0
	for _, l := range slices.SortedStableFunc(slices.Values(r.Budget),
		func(a, b BudgetLine) int { return cmp.Compare(b.Share, a.Share) }) {
		total += l.Share
		if l.Share < 5e-4 {
			continue
		}
		dof := ""
		if l.DoF > 0 && l.DoF < 1000 {
			dof = trim(l.DoF, 1)
		}
		tab.Add(l.Source, significant(l.Value, 6), l.Unit, significant(l.Standard, 2),
			l.Distribution, dof, significant(l.Sensitivity, 3), significant(l.Contribution, 2),
			wording.Fixed(100*l.Share, 1)+" %")
	}
	tab.Add("combined", "", "", "", "", "", "", significant(r.Uncertainty/r.CoverageFactor, 2),
		wording.Fixed(100*total, 1)+" %")
	return tab
}

// significant prints v with n significant digits, powers of ten beyond 1e-4.
func significant(v float64, n int) string { return strconv.FormatFloat(v+0, 'g', n, 64) }

// trim prints v with at most d decimals.
func trim(v float64, d int) string {
	p := math.Pow(10, float64(d))
	return strconv.FormatFloat(math.Round(v*p)/p, 'f', -1, 64)
}
