package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"spotface/report/wording"
)

// budgets says in a line for each kind of characteristic what its uncertainty is
// made of, by the feature that is known worst. Where everything comes from the
// scan's noise there is nothing to say.
func (b *viewer) budgets() {
	tab := &wording.Table{Head: []string{"<largest of each kind", "+-", "<unit", "<made of (share of the variance)"}}
	mixed := false
	for _, r := range largest(b.results) {
		mixed = mixed || slices.ContainsFunc(r.Budget, func(l BudgetLine) bool {
			return l.Source != SourceNoise && l.Source != SourceDatum
		})
		tab.Add(r.plainName(), limitText(r.Uncertainty, r.decimals()), r.Unit, r.madeOf())
	}
	if mixed {
		b.detail("Where the +- comes from", tab)
	}
}

// plainName is "diameter B1/H3", or "diameter C1 (C2 here)" where the scan has
// another id for it.
func (r *Result) plainName() string {
	s := strings.ReplaceAll(string(r.Characteristic), "_", " ") + " " + r.Feature
	if r.Matched != "" {
		s += fmt.Sprintf(" (%s here)", r.Matched)
	}
	return s
}

// largest returns of each characteristic of a circle's holes, and of each feature
// beside circles, the result with the largest uncertainty, in their order.
func largest(results []Result) []*Result {
	var out []*Result
	at := make(map[string]int)
	for i := range results {
		r := &results[i]
		if len(r.Budget) == 0 {
			continue
		}
		key := r.parent() + "|" + string(r.Characteristic)
		if r.parent() == "" {
			key = r.Feature + key
		}
		k, ok := at[key]
		switch {
		case !ok:
			at[key] = len(out)
			out = append(out, r)
		case r.Uncertainty > out[k].Uncertainty:
			out[k] = r
		}
	}
	return out
}

// madeOf lists the largest shares, as many as a line holds: "scanner length error
// 72 %, scan noise 25 %".
func (r *Result) madeOf() string {
	lines := byShare(r.Budget)
	if lines[0].Share > 0.995 {
		return lines[0].Source
	}
	const most = 55 // characters
	s := ""
	for _, l := range lines {
		part := fmt.Sprintf("%s %.0f %%", l.Source, 100*l.Share)
		switch {
		case s == "":
			s = part
		case l.Share < 0.005 || len(s)+2+len(part) > most:
			return s
		default:
			s += ", " + part
		}
	}
	return s
}

func byShare(lines []BudgetLine) []BudgetLine {
	out := slices.Clone(lines)
	slices.SortStableFunc(out, func(a, b BudgetLine) int {
		switch {
		case a.Share > b.Share:
			return -1
		case a.Share < b.Share:
			return 1
		}
		return 0
	})
	return out
}

// Budgets is the whole uncertainty budget of every kind of judged characteristic, each by
// the feature of its kind that is known worst: source, value, standard uncertainty u,
// distribution, degrees of freedom, sensitivity, what it contributes to the result's u, and
// its share of the variance, down to 0.05 %. The budgets of all features are in the JSON.
// Lengths are mm. Without a check there is none.
func Budgets(rep *Report) []Section {
	var out []Section
	like := make(map[string]int)
	for _, r := range rep.Results {
		if len(r.Budget) > 0 {
			like[r.parent()+"|"+string(r.Characteristic)]++
		}
	}
	for _, r := range largest(rep.Results) {
		head := fmt.Sprintf("Uncertainty of %s: %s", r.plainName(), r.amount())
		if n := like[r.parent()+"|"+string(r.Characteristic)]; r.parent() != "" && n > 1 {
			head += fmt.Sprintf(", the largest of %d", n)
		}
		out = append(out, Section{Title: head, Table: r.budgetTable()})
	}
	if len(out) > 0 {
		out = append(out, Section{Title: "How to read this", Text: []string{"u is a standard uncertainty; +- is k times the combined one. Sensitivity is by how much the result changes for a change of one unit of the source, share that of the variance, dof the degrees of freedom where they are few."}})
	}
	if rep.Scale != nil {
		out = append(out, rep.Scale.table())
	}
	return out
}

// amount is "84.001 +-0.023 mm (k = 2)".
func (r *Result) amount() string {
	d := decimals(r.Uncertainty)
	s := fmt.Sprintf("%s +-%s %s (k = %s", fixed(*r.Measured, d), fixed(r.Uncertainty, d), r.Unit, trim(r.CoverageFactor, 2))
	if r.EffectiveDoF > 0 && r.EffectiveDoF < 100 && r.CoverageFactor > Coverage {
		s += fmt.Sprintf(", %.0f degrees of freedom", r.EffectiveDoF)
	}
	return s + ")"
}

func (r *Result) budgetTable() *wording.Table {
	tab := &wording.Table{Head: []string{"<source", "value", "<", "u", "<distribution", "dof", "sensitivity", "u " + r.Unit, "share"}}
	total := 0.0
	for _, l := range byShare(r.Budget) {
		total += l.Share
		if l.Share < 5e-4 {
			continue
		}
		dof := ""
		if l.DoF > 0 && l.DoF < 1000 {
			dof = trim(l.DoF, 1)
		}
		tab.Add(l.Source, significant(l.Value, 6), l.Unit, significant(l.Standard, 2), l.Distribution, dof,
			significant(l.Sensitivity, 3), significant(l.Contribution, 2), fixed(100*l.Share, 1)+" %")
	}
	tab.Add("combined", "", "", "", "", "", "", significant(r.Uncertainty/r.CoverageFactor, 2), fixed(100*total, 1)+" %")
	return tab
}

// significant prints v with n significant digits, powers of ten beyond 1e-4.
func significant(v float64, n int) string {
	s := strconv.FormatFloat(v, 'g', n, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// trim prints v with at most d decimals.
func trim(v float64, d int) string {
	s := fixed(v, d)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
