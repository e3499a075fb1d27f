package check

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/golang/geo/r1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/budget"
)

// std is a standard uncertainty of many degrees of freedom.
func std(u float64) budget.Standard { return budget.Standard{U: u} }

type jcgm106 struct {
	Cases []struct {
		Name        string   `json:"name"`
		Y           float64  `json:"y"`
		U           float64  `json:"u"`
		Lower       *float64 `json:"lower_limit"`
		Upper       *float64 `json:"upper_limit"`
		PublishedPc string   `json:"published_pc"`
		Recomputed  string   `json:"recomputed"`
	} `json:"cases"`
	GuardBands map[string]string `json:"guard_bands"`
}

func readJCGM106(t *testing.T) jcgm106 {
	b, err := os.ReadFile("../../testdata/report/jcgm106-conformance.json")
	require.NoError(t, err)
	var ref jcgm106
	require.NoError(t, json.Unmarshal(b, &ref))
	require.Len(t, ref.Cases, 2)
	return ref
}

// JCGM 106:2012, clause 7: a diode's breakdown voltage and a container's burst
// strength.
func TestConformanceProbabilityOfJCGM106(t *testing.T) {
	for _, c := range readJCGM106(t).Cases {
		t.Run(c.Name, func(t *testing.T) {
			band := r1.Interval{Lo: math.Inf(-1), Hi: math.Inf(1)}
			if c.Lower != nil {
				band.Lo = *c.Lower
			}
			if c.Upper != nil {
				band.Hi = *c.Upper
			}
			p := ConformanceProbability(c.Y, std(c.U), band)
			want, err := strconv.ParseFloat(c.Recomputed, 64)
			require.NoError(t, err)
			assert.InDelta(t, want, p, 1e-12)
			assert.Equal(t, c.PublishedPc, strconv.FormatFloat(p, 'f', 2, 64))
		})
	}
}

// A guard band of U = 2u leaves 97.72 % conformance at the acceptance limit
// (JCGM 106:2012, 8.3.2, r = 1; ISO 14253-1).
func TestGuardBandOfTwoU(t *testing.T) {
	want, err := strconv.ParseFloat(readJCGM106(t).GuardBands["r=1_U=2u_pc_at_limit"], 64)
	require.NoError(t, err)
	band := r1.Interval{Lo: -10, Hi: 0.25}
	const u = 0.01
	limit := band.Hi - 2*u
	assert.InDelta(t, want, ConformanceProbability(limit, std(u), band), 1e-12)
	assert.Equal(t, report.Conforming, Decide(limit-1e-9, std(u).Expanded(), band, report.Guarded))
	assert.Equal(t, report.Indeterminate, Decide(limit+1e-9, std(u).Expanded(), band, report.Guarded))
}

func TestDecide(t *testing.T) {
	band := r1.Interval{Lo: -0.1, Hi: 0.25}
	for _, row := range []struct {
		name           string
		deviation, u   float64
		rule           report.Rule
		guarded, plain report.Verdict
	}{
		{"well inside", 0.1, 0.02, report.Guarded, report.Conforming, report.Conforming},
		{"inside, limit within the uncertainty", 0.22, 0.02, report.Guarded, report.Indeterminate, report.Conforming},
		{"outside, limit within the uncertainty", 0.28, 0.02, report.Guarded, report.Indeterminate, report.Nonconforming},
		{"well outside above", 0.30, 0.02, report.Guarded, report.Nonconforming, report.Nonconforming},
		{"well outside below", -0.15, 0.02, report.Guarded, report.Nonconforming, report.Nonconforming},
		{"uncertainty wider than the band", 0.05, 0.2, report.Guarded, report.Indeterminate, report.Conforming},
		{"uncertainty not known", 0.05, 0, report.Guarded, report.Indeterminate, report.Conforming},
		{"empty rule is guarded", 0.22, 0.02, "", report.Indeterminate, report.Conforming},
	} {
		t.Run(row.name, func(t *testing.T) {
			assert.Equal(t, row.guarded, Decide(row.deviation, std(row.u).Expanded(), band, row.rule))
			assert.Equal(t, row.plain, Decide(row.deviation, std(row.u).Expanded(), band, report.SimpleAcceptance))
		})
	}
	assert.Equal(t, report.Conforming, Decide(0.28, std(0.02).Expanded(), band, report.GuardedRejection))
	assert.Equal(t, report.Nonconforming, Decide(0.30, std(0.02).Expanded(), band, report.GuardedRejection))
	assert.Equal(t, report.Indeterminate, Decide(math.NaN(), std(0.02).Expanded(), band, report.Guarded))
}

// A part exactly at its limit is accepted, and rejected, in 2.275 % of
// measurements (normal tail beyond 2u). 20,000 trials: 455 expected, standard
// deviation 21.1; the bounds are 3.5 of them away, 5e-4 for both together.
func TestFalseAcceptAndFalseReject(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	band := r1.Interval{Lo: -0.25, Hi: 0.25}
	accept, reject := 0, 0
	for range 20000 {
		switch Decide(0.25+0.01*rng.NormFloat64(), std(0.01).Expanded(), band, report.Guarded) {
		case report.Conforming:
			accept++
		case report.Nonconforming:
			reject++
		}
	}
	assert.InDelta(t, 455, accept, 74)
	assert.InDelta(t, 455, reject, 74)
}
