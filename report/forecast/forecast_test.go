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
// N is counted on the walls. bolt leaves out what is within two spacings of either
// end of a wall, but keeps two thirds of its depth; of what remains the part that
// its cut takes is not known, which is the 8 % allowed.
//
// Not knowing that the noise is independent may cost the tool a tenth more.
//
// 12 trials of 6 holes: the mean stated uncertainty may differ by 4.5 of its own
// standard errors on top, 1e-3 by chance (Student's t, 11 degrees of freedom). Of 72
// errors 95 % should be covered; fewer than 80 % are with a probability of 2e-6, were
// they independent. With -short 6 trials: 6.9 standard errors (5 degrees of freedom),
// and fewer than 75 % of 36 with 7e-6.
func TestClockingAgainstTheory(t *testing.T) {
	const spacing, depth = 0.7, 6.0
	trials, least, errs := 12, 0.80, 4.5
	if testing.Short() {
		trials, least, errs = 6, 0.75, 6.9
	}
	f, err := Run(t.Context(), plan(t, shallow), Options{Kind: Cloud, Noise: 0.03, Spacing: spacing, Depth: depth,
		CorrelationLength: &independent, Times: []float64{}, Trials: trials, Seed: 3})
	require.NoError(t, err)
	s := f.Cases[0].Clocking[0]
	n := float64(s.OnHole) * (1 - 2*min(2*spacing/depth, 1.0/6))
	theory := 2 * math.Sqrt(1+1.0/6) * math.Sqrt(2/n) * 0.03 / 30 * 180 / math.Pi
	t.Logf("theory %.4f, stated %.4f +- %.4f, actual %.4f, on a wall %d", theory, s.Uncertainty, s.UncertaintyError, s.Actual, s.OnHole)
	assert.Equal(t, 1.0, s.Seen)
	assert.Greater(t, s.Uncertainty, 0.92*theory-errs*s.UncertaintyError)
	assert.Less(t, s.Uncertainty, 1.1*1.08*theory+errs*s.UncertaintyError)
	for _, e := range f.Cases[0].Expected {
		if e.Characteristic == report.ClockingAngle {
			assert.GreaterOrEqual(t, e.Covered, least)
			assert.InDelta(t, s.Uncertainty, e.Uncertainty, 1e-12, "of the same scans")
		}
	}
}

// The part carries what the plan names: each feature is found in a scan of it.
func TestPartCarriesThePlan(t *testing.T) {
	f, err := Run(t.Context(), plan(t, `frame: {face: P1, axis: C1, clock: H1}
bolt_circles: [{id: B1, count: 4, pitch_diameter: {nominal: 36, band: [-0.2, 0.2]}, hole_diameter: {nominal: 5}, clocking: {band: [-0.5, 0.5]}}]
holes: [{id: X1, at: [14, 24], diameter: {nominal: 8, band: [-0.5, 0.5]}, position: {diameter: 0.5}}]
cylinders:
  - {id: C1, side: internal, diameter: {nominal: 8, band: [-0.3, 0.3]}, perpendicular_to: P1, perpendicularity: 0.3}
  - {id: C2, side: external, diameter: {nominal: 24, band: [-0.3, 0.3]}}
planes:
  - {id: P1, flatness: 0.3}
  - {id: P2, at: [0, 0, 4], normal: [0, 0, 1], flatness: 0.3}
  - {id: P3, at: [0, 0, -5], normal: [0, 0, -1], flatness: 0.3}
  - {id: P4, at: [36, 0, -2], normal: [1, 0, 0], flatness: 0.3}
`), Options{Noise: 0.01, Spacing: 0.4, CorrelationLength: &independent, Trials: 1, Times: []float64{}})
	require.NoError(t, err)
	got := make(map[string]float64)
	for _, e := range f.Cases[0].Expected {
		got[e.Feature+" "+string(e.Characteristic)] = e.Seen
	}
	assert.Equal(t, map[string]float64{
		"B1 clocking": 1, "B1 pitch_diameter": 1, "X1 diameter": 1, "X1 position": 1, "C1 diameter": 1,
		"C1 perpendicularity": 1, "C2 diameter": 1, "P1 flatness": 1, "P2 flatness": 1, "P4 flatness": 1}, got)
	assert.Equal(t, []string{"P3: it faces away from a scanner above the mounting face."}, f.LeftOut)
}

// The same plan, options and seed give the same bytes on one processor and on
// several, and another seed others.
func TestSameOnAnyCores(t *testing.T) {
	forecast := func(jobs int, seed uint64) []byte {
		f, err := Run(t.Context(), plan(t, shallow), Options{Noise: 0.05, Spacing: 0.8, CorrelationLength: &independent,
			Times: []float64{}, Trials: 2, Jobs: jobs, Seed: seed})
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
	f, err := Run(t.Context(), p, Options{Times: []float64{}, Trials: 1})
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
	f.Cases[0].Clocking = []Step{{Spacing: 1, Uncertainty: 0.8, Seen: 0.4}, {Spacing: 0.8, Uncertainty: 0.2, Seen: 1}, {Spacing: 0.4, Uncertainty: 0.1, Seen: 1}}
	f.Cases[1].Clocking = []Step{{Spacing: 1}, {Spacing: 0.8, Uncertainty: 0.2, Seen: 1}, {Spacing: 0.4, Uncertainty: 0.16, Seen: 1}}
	f.Cases[1].Expected = []Expected{{Feature: "B1", Characteristic: report.Diameter, Answer: No}}
	b.Reset()
	require.NoError(t, WriteText(&b, f))
	text = strings.Join(strings.Fields(b.String()), " ")
	assert.Contains(t, text, "point to point: four times the points make it 2.0 times smaller.", "where the circle is hardly found does not count")
	assert.Contains(t, text, "four times the points make it 1.2 times smaller, where independent points would make it 2 times")
	assert.Contains(t, text, "circle not found")
	assert.Contains(t, text, "Fusing images to a mesh rounds edges and moves curved walls")
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
		Options{Times: []float64{}, Trials: 1})
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
