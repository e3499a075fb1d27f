package batch

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"spotface/report"
)

// Drift is what changes over the batch for sure. Of a hole of a circle it is against the
// median of the circle's holes that do not drift, which names the culprit: one hole that
// moves turns the pattern's best fit, and with it the figures of all. What a circle's holes
// do together is a drift of the circle.
type Drift struct {
	Feature        string                `json:"feature"`
	Characteristic report.Characteristic `json:"characteristic"`
	Unit           string                `json:"unit,omitempty"`
	// Against is "other holes", "holes together" of a circle, or empty: against nominal.
	Against string `json:"against,omitempty"`
	Trend
	score float64 // change over its standard error
}

// What a drift may be of, or against.
const (
	others   = "other holes"
	together = "holes together"
)

// drifts looks for what changes, at driftLevel for all together (Bonferroni). The surest
// comes first.
func drifts(rows []*row, parts int) []Drift {
	groups := make(map[key][]*row) // a circle's holes, or a row alone
	var order []key
	for _, w := range rows {
		of, _ := w.key().hole()
		if groups[of] == nil {
			order = append(order, of)
		}
		groups[of] = append(groups[of], w)
	}
	chance := driftLevel / float64(len(rows)+len(order))
	out := []Drift{}
	try := func(w *row, feature, against string, y []float64) (d Drift, ok bool) {
		at, y := numbers(y)
		if len(y) < leastDrift {
			return d, false
		}
		f := fitLine(at, y)
		d = Drift{Feature: feature, Characteristic: w.Characteristic.Characteristic, Unit: w.Unit,
			Against: against, Trend: *f.over(parts), score: math.Abs(f.slope) / f.se}
		return d, f.se > 0 && d.score > studentT(f.dof).Quantile(1-chance/2)
	}
	for _, of := range order {
		holes := groups[of]
		angle := of.what == report.ClockingAngle || of.what == report.SpacingAngle
		if of.what == report.SpacingAngle && groups[key{of.feature, report.ClockingAngle}] != nil {
			continue // clocking says the same, hole by hole
		}
		if len(holes) == 1 || !angle { // the mean angle of a circle is fixed
			against := together
			if len(holes) == 1 {
				against = ""
			}
			mean := figure(holes, func(v []float64) float64 { return stat.Mean(v, nil) })
			if d, ok := try(holes[0], of.feature, against, mean); ok {
				out = append(out, d)
			}
		}
		drifting := make([]bool, len(holes))
		for left := len(holes); left > 2; left-- { // of two nobody knows which one moves
			var worst Drift
			at := -1
			for j, h := range holes {
				y := figure(holes, func(v []float64) float64 { return fromOthers(v, j, drifting) })
				d, ok := try(h, h.Feature, others, y)
				if ok && !drifting[j] && d.score > worst.score {
					worst, at = d, j
				}
			}
			if at < 0 {
				break
			}
			drifting[at] = true
			out = append(out, worst)
		}
	}
	slices.SortStableFunc(out, func(a, b Drift) int { return cmp.Compare(b.score, a.score) })
	return out
}

// figure gives a figure of the holes' deviations for each part, NaN where it lacks a hole.
func figure(holes []*row, of func(v []float64) float64) []float64 {
	out := make([]float64, len(holes[0].dev))
	v := make([]float64, len(holes))
	for i := range out {
		for j, h := range holes {
			v[j] = h.dev[i]
		}
		if out[i] = math.NaN(); !slices.ContainsFunc(v, math.IsNaN) {
			out[i] = of(v)
		}
	}
	return out
}

// fromOthers is how far hole j is from the median of the others, those that drift left out.
func fromOthers(v []float64, j int, drifting []bool) float64 {
	var rest []float64
	for i := range v {
		if i != j && !drifting[i] {
			rest = append(rest, v[i])
		}
	}
	slices.Sort(rest)
	n := len(rest)
	return v[j] - (rest[(n-1)/2]+rest[n/2])/2
}
