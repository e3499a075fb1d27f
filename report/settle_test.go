package report

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestExitCode(t *testing.T) {
	for _, row := range []struct {
		name    string
		results []Verdict
		want    int
	}{
		{"measured without a plan", nil, 0},
		{"all conforming", []Verdict{Conforming, Conforming}, 0},
		{"one nonconforming", []Verdict{Conforming, Indeterminate, Nonconforming}, 1},
		{"one missing", []Verdict{Conforming, Indeterminate, Missing}, 1},
		{"one indeterminate", []Verdict{Conforming, Indeterminate, Conforming}, 3},
	} {
		t.Run(row.name, func(t *testing.T) {
			rep := &Report{}
			for _, v := range row.results {
				rep.Results = append(rep.Results, Result{Verdict: v})
			}
			rep.Verdict = Worst(rep.Results)
			assert.Equal(t, row.want, ExitCode(rep))
			assert.NotEqual(t, Missing, rep.Verdict, "a whole part is never missing")
		})
	}
}

// What the report says would settle a result does settle it.
func TestPointsToSettle(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 3))
	lo, hi := -0.1, 0.25
	seen := 0
	for range 2000 {
		scan, plan := 0.05*rng.Float64(), 0.02*rng.Float64()
		dev := -0.2 + 0.55*rng.Float64()
		u := math.Hypot(scan, plan)
		// Indeterminate is what has a limit within its uncertainty.
		open := func(u float64) bool { return math.Min(math.Abs(dev-lo), math.Abs(dev-hi)) < u }
		if !open(u) {
			continue
		}
		r := Result{Deviation: &dev, Lower: &lo, Upper: &hi, Uncertainty: u, FromPlan: plan}
		times := r.pointsToSettle()
		if math.IsInf(times, 1) {
			assert.True(t, open(plan), "no number of points would")
			continue
		}
		seen++
		require.Greater(t, times, 1.0)
		more := math.Hypot(scan/math.Sqrt(times*1.001), plan)
		fewer := math.Hypot(scan/math.Sqrt(times*0.999), plan)
		assert.False(t, open(more))
		assert.True(t, open(fewer))
	}
	assert.Greater(t, seen, 50)
}
