package report

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
	b, err := os.ReadFile("../testdata/report/jcgm106-conformance.json")
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
	assert.Equal(t, Conforming, Decide(limit-1e-9, std(u), band, Guarded))
	assert.Equal(t, Indeterminate, Decide(limit+1e-9, std(u), band, Guarded))
}

func TestDecide(t *testing.T) {
	band := r1.Interval{Lo: -0.1, Hi: 0.25}
	for _, row := range []struct {
		name           string
		deviation, u   float64
		rule           Rule
		guarded, plain Verdict
	}{
		{"well inside", 0.1, 0.02, Guarded, Conforming, Conforming},
		{"inside, limit within the uncertainty", 0.22, 0.02, Guarded, Indeterminate, Conforming},
		{"outside, limit within the uncertainty", 0.28, 0.02, Guarded, Indeterminate, Nonconforming},
		{"well outside above", 0.30, 0.02, Guarded, Nonconforming, Nonconforming},
		{"well outside below", -0.15, 0.02, Guarded, Nonconforming, Nonconforming},
		{"uncertainty wider than the band", 0.05, 0.2, Guarded, Indeterminate, Conforming},
		{"uncertainty not known", 0.05, 0, Guarded, Indeterminate, Conforming},
		{"empty rule is guarded", 0.22, 0.02, "", Indeterminate, Conforming},
	} {
		t.Run(row.name, func(t *testing.T) {
			assert.Equal(t, row.guarded, Decide(row.deviation, std(row.u), band, row.rule))
			assert.Equal(t, row.plain, Decide(row.deviation, std(row.u), band, SimpleAcceptance))
		})
	}
	assert.Equal(t, Conforming, Decide(0.28, std(0.02), band, GuardedRejection))
	assert.Equal(t, Nonconforming, Decide(0.30, std(0.02), band, GuardedRejection))
	assert.Equal(t, Indeterminate, Decide(math.NaN(), std(0.02), band, Guarded))
}

// A part exactly at its limit is accepted, and rejected, in 2.275 % of
// measurements (normal tail beyond 2u). 20,000 trials: 455 expected, standard
// deviation 21.1; the bounds are 3.5 of them away, 5e-4 for both together.
func TestFalseAcceptAndFalseReject(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	band := r1.Interval{Lo: -0.25, Hi: 0.25}
	accept, reject := 0, 0
	for range 20000 {
		switch Decide(0.25+0.01*rng.NormFloat64(), std(0.01), band, Guarded) {
		case Conforming:
			accept++
		case Nonconforming:
			reject++
		}
	}
	assert.InDelta(t, 455, accept, 74)
	assert.InDelta(t, 455, reject, 74)
}

func TestRadius95(t *testing.T) {
	// Equal variances: the Rayleigh distribution, R = s sqrt(-2 ln 0.05).
	assert.InDelta(t, 0.03*math.Sqrt(-2*math.Log(0.05)), radius95([2][2]float64{{9e-4, 0}, {0, 9e-4}}), 1e-12)
	// One direction only: Student's t for infinite degrees of freedom, 95 %
	// (GUM table G.2: 1.960).
	assert.InDelta(t, 1.959964, radius95([2][2]float64{{1, 0}, {0, 0}}), 2e-6)
	assert.Zero(t, radius95([2][2]float64{}))
	assert.Zero(t, radius95([2][2]float64{{math.NaN(), 0}, {0, 1}}))
	assert.Zero(t, radius95([2][2]float64{{math.Inf(1), 0}, {0, 1}}))

	// A turned, elongated one holds 95 % of 40,000 draws: standard deviation
	// 0.109 %, bound 3.5 of them, false alarm 5e-4.
	const s1, s2, angle = 1.0, 0.4, 0.7
	c, s := math.Cos(angle), math.Sin(angle)
	cov := [2][2]float64{
		{s1*s1*c*c + s2*s2*s*s, (s1*s1 - s2*s2) * c * s},
		{(s1*s1 - s2*s2) * c * s, s1*s1*s*s + s2*s2*c*c},
	}
	r := radius95(cov)
	rng := rand.New(rand.NewPCG(5, 2))
	in := 0
	for range 40000 {
		a, b := s1*rng.NormFloat64(), s2*rng.NormFloat64()
		if math.Hypot(c*a-s*b, s*a+c*b) <= r {
			in++
		}
	}
	assert.InDelta(t, 0.95, float64(in)/40000, 0.0039)
}

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
	band := r1.Interval{Lo: -0.1, Hi: 0.25}
	seen := 0
	for range 2000 {
		scan, plan := 0.05*rng.Float64(), 0.02*rng.Float64()
		dev := -0.2 + 0.55*rng.Float64()
		u := math.Hypot(scan, plan)
		if Decide(dev, std(u/coverage), band, Guarded) != Indeterminate {
			continue
		}
		r := Result{Deviation: &dev, Lower: &band.Lo, Upper: &band.Hi, Uncertainty: u, FromPlan: plan}
		times := r.pointsToSettle()
		if math.IsInf(times, 1) {
			assert.Equal(t, Indeterminate, Decide(dev, std(plan/coverage), band, Guarded), "no number of points would")
			continue
		}
		seen++
		require.Greater(t, times, 1.0)
		more := math.Hypot(scan/math.Sqrt(times*1.001), plan)
		fewer := math.Hypot(scan/math.Sqrt(times*0.999), plan)
		assert.NotEqual(t, Indeterminate, Decide(dev, std(more/coverage), band, Guarded))
		assert.Equal(t, Indeterminate, Decide(dev, std(fewer/coverage), band, Guarded))
	}
	assert.Greater(t, seen, 50)
}
