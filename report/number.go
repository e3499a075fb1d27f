package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"spotface/report/wording"
)

// Number is a figure as a reader sees it, rounded together with its expanded uncertainty.
// Decimals is 0 where there is none.
type Number struct {
	Value    float64
	U        float64 // 0: not known
	Decimals int
}

// String is "40.001".
func (n Number) String() string { return n.as(wording.Fixed) }

// Signed is "+0.40", zero without a sign.
func (n Number) Signed() string { return n.as(wording.Signed) }

// WithU is "40.001 +-0.015".
func (n Number) WithU() string { return n.String() + wording.PlusMinus(n.U, n.Decimals) }

// SignedU is "+0.40 +-0.03".
func (n Number) SignedU() string { return n.Signed() + wording.PlusMinus(n.U, n.Decimals) }

// upper is a number that is itself an upper limit.
func (n Number) upper() string { return n.as(wording.Limit) }

func (n Number) as(say func(v float64, decimals int) string) string {
	if n.Decimals == 0 {
		return ""
	}
	return say(n.Value, n.Decimals)
}

// rounded rounds the value to so many decimals. The uncertainty is rounded where it is
// printed, so that a small one is not lost.
func (n Number) rounded(decimals int) Number {
	p := math.Pow(10, float64(decimals))
	return Number{Value: math.Round(n.Value*p) / p, U: n.U, Decimals: decimals}
}

// offDecimals are those of what a hole is turned by, degrees: a hundredth is what a shop
// can use, unless the scan knows much better.
func offDecimals(u float64) int {
	if u > 0 && u < 0.005 {
		return 3
	}
	return 2
}

func offAngle(deg, u float64) Number { return raw(deg, u).rounded(offDecimals(u)) }

// lengthUnit is the unit that a reader wants lengths in.
type lengthUnit struct {
	name string
	mm   float64 // of one
	most int     // decimals that its readers use, one less where no more is known
}

var (
	millimetre = lengthUnit{"mm", 1, 3}
	inch       = lengthUnit{"in", 25.4, 4}
)

// decimals shows the first two digits of an expanded uncertainty (GUM 7.2.6), within
// what the unit's readers use; the fewest where it is not known.
func (l lengthUnit) decimals(u float64) int {
	more := l.most - millimetre.most
	return wording.Decimals(u*math.Pow10(more)) + more
}

// raw is a length of so many mm in the unit, yet to be rounded.
func (l lengthUnit) raw(mm, u float64) Number { return raw(mm/l.mm, u/l.mm) }

// raw is a number yet to be rounded.
func raw(v, u float64) Number { return Number{Value: v, U: u, Decimals: 1} }

// number is a length of so many mm, rounded.
func (l lengthUnit) number(mm, u float64) Number {
	n := l.raw(mm, u)
	return n.rounded(l.decimals(n.U))
}

// text is "0.293 mm".
func (l lengthUnit) text(mm, u float64) string { return l.number(mm, u).String() + " " + l.name }

// short is "6.6": a length of so many mm without trailing zeros.
func (l lengthUnit) short(mm float64) string {
	return wording.Short(l.raw(mm, 0).rounded(l.most).Value)
}

// results are those of a report in the unit.
func (l lengthUnit) results(rep *Report) []Result { return changed(rep.Results, l.result) }

func (l lengthUnit) result(r *Result) {
	if r.Unit != "mm" || l.mm == 1 {
		return
	}
	for _, p := range []**float64{&r.Nominal, &r.Measured, &r.Deviation, &r.Lower, &r.Upper} {
		if *p != nil {
			*p = new(**p / l.mm)
		}
	}
	r.Unit, r.Uncertainty, r.FromPlan = l.name, r.Uncertainty/l.mm, r.FromPlan/l.mm
	if c := r.Change; c != nil {
		r.Change = &Change{c.By / l.mm, c.Uncertainty / l.mm, c.Beyond}
	}
	r.Budget = changed(r.Budget, func(s *BudgetLine) {
		s.Contribution /= l.mm
		s.Sensitivity /= l.mm
	})
}

// decimals of the result's figures.
func (r *Result) decimals() int {
	if r.Unit == inch.name {
		return inch.decimals(r.Uncertainty)
	}
	return wording.Decimals(r.Uncertainty)
}

// gather sorts a list into groups in their order; alike says whether an item belongs to a group.
func gather[T any](list []T, alike func(group []T, v T) bool) (groups [][]T) {
	for _, v := range list {
		i := slices.IndexFunc(groups, func(g []T) bool { return alike(g, v) })
		if i < 0 {
			i, groups = len(groups), append(groups, nil)
		}
		groups[i] = append(groups[i], v)
	}
	return groups
}

// plural picks the words for one or for n things; many may have a place for n.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	if strings.Contains(many, "%d") {
		return fmt.Sprintf(many, n)
	}
	return many
}
