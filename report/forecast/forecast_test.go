package forecast

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
)

const shallow = "bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 60, band: [-0.2, 0.2]}, hole_diameter: {nominal: 14, band: [-0.2, 0.2]}, clocking: {band: [-0.25, 0.25]}}]\n"

var independent = 0.0

// Theory for independent noise, as of a cloud (fusing to a mesh makes neighbours
// share theirs): a circle through N points all round has a centre
// of variance 2 s²/N each way (Chan & Thomas, CVGIP: Graph. Models Image Process.
// 57 (1995) 527-532), a hole's angle from the least-squares circle of n holes at
// R then 1 + 2/n of it over R², less the 1/n that turning the pattern takes
// (first-order propagation):
//
//	U = 2 √(1 + 1/n) √(2/N) s/R
//
// Steep walls are seen less densely on one side than the other, and the points at
// the rounded ends of a wall are not used: the forecast may be up to a third above,
// never below. 12 trials of 6 holes: the mean stated uncertainty is sure to 3 %,
// the actual one, of 48 free errors, to 10 %; 35 % is 3.5 of that.
func TestClockingAgainstTheory(t *testing.T) {
	f, err := Run(t.Context(), plan(t, shallow), Options{Kind: Cloud, Noise: 0.03, Spacing: 0.7, Depth: 6,
		CorrelationLength: &independent, Times: []float64{}, Trials: 12, Seed: 3})
	require.NoError(t, err)
	s := f.Cases[0].Clocking[0]
	theory := 2 * math.Sqrt(1+1.0/6) * math.Sqrt(2/float64(s.OnHole)) * 0.03 / 30 * 180 / math.Pi
	t.Logf("theory %.4f, stated %.4f, actual %.4f, on a wall %d", theory, s.Uncertainty, s.Actual, s.OnHole)
	assert.Equal(t, 1.0, s.Seen)
	assert.InDelta(t, 1.2, s.Actual/theory, 0.42)
	assert.InEpsilon(t, s.Uncertainty, s.Actual, 0.35, "what is stated is what happens")
}

// The same plan, options and seed give the same bytes on one processor and on
// several, and another seed others.
func TestSameOnAnyCores(t *testing.T) {
	forecast := func(jobs int, seed uint64) []byte {
		f, err := Run(t.Context(), plan(t, shallow), Options{Noise: 0.05, Spacing: 0.8, CorrelationLength: &independent,
			Times: []float64{}, Trials: 3, Jobs: jobs, Seed: seed})
		require.NoError(t, err)
		var b bytes.Buffer
		require.NoError(t, WriteJSON(&b, f))
		return b.Bytes()
	}
	one := forecast(1, 1)
	assert.Equal(t, string(one), string(forecast(3, 1)))
	assert.NotEqual(t, string(one), string(forecast(2, 2)))
	var back Forecast
	require.NoError(t, json.Unmarshal(one, &back))
	assert.Equal(t, Schema, back.Schema)
}

// Where the plan says nothing of it, noise is forecast both ways, and the text says
// so; a band that cannot be judged is named in the first sentence.
func TestTextOfTwoCases(t *testing.T) {
	p := plan(t, "scanner: {noise: 0.06, spacing: 0.8}\n"+shallow)
	p.BoltCircles[0].ClockingBand.Lo, p.BoltCircles[0].ClockingBand.Hi = -0.01, 0.01
	f, err := Run(t.Context(), p, Options{Times: []float64{}, Trials: 2})
	require.NoError(t, err)
	require.Len(t, f.Cases, 2)
	assert.Equal(t, 1.75, f.Cases[1].CorrelationLength, "a quarter of a radius of 7")
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, f))
	text := strings.Join(strings.Fields(b.String()), " ")
	assert.Contains(t, text, "but not B1 clocking")
	assert.Contains(t, text, "Noise independent from point to point")
	assert.Contains(t, text, "Noise shared by neighbours over 1.8 mm")
	assert.Contains(t, text, "A forecast approves nothing")
	assert.NotContains(t, text, "NaN")
	assert.NotContains(t, text, "Inf")
}

func TestWhatIsNotSaidIsNotMadeUp(t *testing.T) {
	var missing *MissingError
	_, err := Run(t.Context(), plan(t, shallow), Options{})
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "noise", missing.Key)
	_, err = Run(t.Context(), plan(t, shallow), Options{Noise: 0.03})
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "spacing", missing.Key)
	for _, o := range []Options{
		{Noise: -1, Spacing: 1}, {Noise: math.NaN(), Spacing: 1}, {Noise: 1, Spacing: math.Inf(1)},
		{Noise: 0.1, Spacing: 0.001}, {Noise: 0.1, Spacing: 50}, {Noise: 0.1, Spacing: 1, Kind: "photo"},
		{Noise: 0.1, Spacing: 1, Depth: -1}, {Noise: 0.1, Spacing: 1, Times: []float64{0}},
	} {
		_, err := Run(t.Context(), plan(t, shallow), o)
		assert.Error(t, err, "%+v", o)
	}
}

func TestRunStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	o := Options{Noise: 0.05, Spacing: 0.8, Progress: func(string, int, int) { cancel() }}
	_, err := Run(ctx, plan(t, shallow), o)
	assert.True(t, errors.Is(err, context.Canceled), "%v", err)
}

// What the plan adds is in the stated uncertainty: a + b L of a pitch of 60.
func TestPlanIsInIt(t *testing.T) {
	f, err := Run(t.Context(), plan(t, "scanner: {noise: 0.03, spacing: 0.8, correlation_length: 0.5, length: {a: 0.03, b: 0.0005}}\n"+shallow),
		Options{Times: []float64{}, Trials: 2})
	require.NoError(t, err)
	require.Len(t, f.Cases, 1, "the length is known")
	for _, e := range f.Cases[0].Expected {
		switch e.Characteristic {
		case report.PitchDiameter:
			assert.InDelta(t, 2*(0.03+0.0005*60), e.FromPlan, 1e-3)
			assert.InDelta(t, math.Hypot(e.FromScan, e.FromPlan), e.Uncertainty, 1e-3)
		case report.ClockingAngle:
			assert.Zero(t, e.FromPlan, "angles have no scale")
		}
	}
}
