package forecast

import (
	"math"
	"testing"

	"github.com/golang/geo/r1"
	"github.com/stretchr/testify/assert"

	"spotface/report"
)

// result is that of a hole of a circle.
func result(lower, upper *float64, deviation, u float64) judged {
	r := report.Result{Feature: "B1/H1", Characteristic: report.Diameter, Unit: "mm", Lower: lower,
		Upper: upper, Deviation: &deviation, Uncertainty: u, CoverageFactor: 2}
	return judged{r, r}
}

// Worked by hand: a band of +-0.10 and U = 0.04. The good part reads its error, the
// bad one 0.2 off, so called nonconforming unless its error brings it within 0.14.
func TestGoodAndBadParts(t *testing.T) {
	band := r1.Interval{Lo: -0.1, Hi: 0.1}
	read := func(deviation, total float64) judged { return result(nil, nil, deviation, total) }
	for _, row := range []struct {
		name      string
		r         judged
		b         r1.Interval
		rule      report.Rule
		good, bad float64
	}{
		{"clear", read(0.01, 0.04), band, "", 1, 1},
		{"the error hides a bad one on one side", read(0.07, 0.04), band, "", 0, 0.5},
		{"an uncertainty as wide as the band passes nothing", read(0, 0.11), band, "", 0, 0},
		{"but rejection beyond it still works", read(0, 0.099), band, report.GuardedRejection, 1, 1},
		{"the number alone decides", read(0.05, 0.3), band, report.SimpleAcceptance, 1, 1},
		{"a band off the nominal", read(0.01, 0.04), r1.Interval{Lo: 0, Hi: 0.2}, "", 1, 1},
		{"a perfect form", read(0.02, 0.04), r1.Interval{Lo: math.Inf(-1), Hi: 0.1}, "", 1, 0.691462},
	} {
		t.Run(row.name, func(t *testing.T) {
			good, bad := called(&row.r, row.b, row.rule)
			assert.InDelta(t, row.good, good, 1e-12)
			// 0.691462 is Φ(0.5) (usual tables): half of 0.1 less U in units of u.
			assert.InDelta(t, row.bad, bad, 1e-6)
		})
	}
}

// Mean and standard error of 1, 2, 3, 4: 2.5 and √(5/3)/2.
func TestMean(t *testing.T) {
	var m mean
	assert.Zero(t, m.value())
	for _, v := range []float64{1, 2, 3, 4} {
		m.add(v)
	}
	assert.InDelta(t, 2.5, m.value(), 1e-15)
	assert.InDelta(t, math.Sqrt(5.0/3)/2, m.err(), 1e-15)
	m = mean{}
	m.add(1)
	assert.True(t, math.IsInf(m.err(), 1), "one trial says nothing of its scatter")
}

// By hand: uncertainties of 0.018 and 0.022 have the mean 0.02 and the standard error 0.002,
// a tenth. A band of +-0.04 is twice that wide, one of +-0.08 four times, one of +-1 fifty.
func TestWideBandsNeedFewerTrials(t *testing.T) {
	for _, row := range []struct{ half, counts float64 }{{0.01, 1}, {0.04, 1}, {0.08, 2}, {1, 2.5}} {
		lo, hi := -row.half, row.half
		var o []outcome
		for _, u := range []float64{0.018, 0.022} {
			o = append(o, outcome{results: []judged{result(&lo, &hi, 0, u)}})
		}
		share, allowedFor := worst(tallies(o, ""))
		assert.InDelta(t, 0.1, share, 1e-12)
		assert.InDelta(t, 0.1/row.counts, allowedFor, 1e-12)
	}
}

func TestWhatIsNeverSeenIsSaidSo(t *testing.T) {
	lo, hi := -0.1, 0.1
	seen := result(&lo, &hi, 0, 0.02)
	gone := judged{alone: report.Result{Feature: "B1/H2", Characteristic: report.Diameter}}
	expect := func(results ...judged) Expected {
		var o []outcome
		for _, r := range results {
			o = append(o, outcome{results: []judged{r}})
		}
		return tallies(o, "")[0].expected()
	}
	assert.Equal(t, NotSeen, expect(gone, gone).Answer)
	assert.Equal(t, NotSeen, expect(seen, gone, gone).Answer)
	e := expect(seen, seen, gone)
	assert.Equal(t, Partly, e.Answer, "seen in two of three")
	assert.InDelta(t, 2.0/3, e.Seen, 1e-15)
	e = expect(seen, seen)
	assert.Equal(t, Yes, e.Answer)
	assert.InDelta(t, 5, *e.Ratio, 1e-12, "JCGM 106:2012, 7.6.3: C_m = T/(4u) = 0.2/(4 x 0.01)")
}
