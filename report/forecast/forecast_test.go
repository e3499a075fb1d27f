package forecast

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim/trials"
	"spotface/report"
)

const shallow = "bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 60, band: [-0.2, 0.2]}, hole_diameter: {nominal: 14, band: [-0.2, 0.2]}, clocking: {band: [-0.25, 0.25]}}]\n"

// small costs least to simulate.
const small = "bolt_circles: [{id: B1, count: 4, pitch_diameter: {nominal: 24, band: [-0.2, 0.2]}, hole_diameter: {nominal: 8, band: [-0.2, 0.2]}, clocking: {band: [-0.25, 0.25]}}]\n"

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
// The stated uncertainty scatters by 8 % of it from trial to trial. Of the errors of six
// holes, which share the circle that they are taken from, each trial counts as two
// independent ones (5 of 12 parameters of the centres are taken out); 95 % are covered.
// False-alarm rates: 1e-3 for each side of the mean, and for the share.
func TestClockingAgainstTheory(t *testing.T) {
	const spacing, depth = 1.0, 6.0
	n := trials.Of(4, 2)
	scatter := 0.08 * trials.Mean(n, 2e-3)
	least := float64(trials.Least(2*n, 0.95, 1e-3)) / float64(2*n)
	f, err := Run(t.Context(), planOf(t, shallow), Options{Kind: Cloud, Noise: 0.03, Spacing: spacing, Depth: depth,
		CorrelationLength: &independent, Trials: n, Seed: 3})
	require.NoError(t, err)
	c := f.Cases[0]
	i := slices.IndexFunc(c.Expected, func(e Expected) bool { return e.Characteristic == report.ClockingAngle })
	require.GreaterOrEqual(t, i, 0)
	e := c.Expected[i]
	points := float64(c.OnHole) * (1 - 2*min(2*spacing/depth, 1.0/6))
	theory := 2 * math.Sqrt(1+1.0/6) * math.Sqrt(2/points) * 0.03 / 30 * 180 / math.Pi
	t.Logf("theory %.4f, stated %.4f +- %.4f, actual %.4f, on a wall %d", theory, e.Uncertainty, e.UncertaintyError, e.Actual, c.OnHole)
	assert.Equal(t, 1.0, e.Seen)
	assert.Greater(t, e.Uncertainty, (0.92-scatter)*theory)
	assert.Less(t, e.Uncertainty, (1.1*1.08+scatter)*theory)
	assert.GreaterOrEqual(t, e.Covered, least)
}

// The part carries the plan's holes and bores: each is found in a scan of it. What else the
// plan names is left out, and said.
func TestPartCarriesThePlan(t *testing.T) {
	f, err := Run(t.Context(), planOf(t, `frame: {face: P1, axis: C1, clock: H1}
bolt_circles: [{id: B1, count: 4, pitch_diameter: {nominal: 36, band: [-0.2, 0.2]}, hole_diameter: {nominal: 5}, clocking: {band: [-0.5, 0.5]}}]
holes: [{id: X1, at: [14, 24], diameter: {nominal: 8, band: [-0.5, 0.5]}, position: {diameter: 0.5}}]
cylinders:
  - {id: C1, side: internal, diameter: {nominal: 8, band: [-0.3, 0.3]}, perpendicular_to: P1, perpendicularity: 0.3}
  - {id: C2, side: external, diameter: {nominal: 24, band: [-0.3, 0.3]}}
  - {id: C3, side: external, diameter: {nominal: 70, band: [-0.3, 0.3]}}
planes:
  - {id: P1, flatness: 0.3}
  - {id: P2, at: [0, 0, 4], normal: [0, 0, 1], flatness: 0.3}
`), Options{Noise: 0.01, Spacing: 0.5, CorrelationLength: &independent, Trials: 1})
	require.NoError(t, err)
	got := make(map[string]float64)
	for _, e := range f.Cases[0].Expected {
		got[e.Feature+" "+string(e.Characteristic)] = e.Seen
	}
	assert.Equal(t, map[string]float64{
		"B1 clocking": 1, "B1 pitch_diameter": 1, "X1 diameter": 1, "X1 position": 1, "C1 diameter": 1,
		"C1 perpendicularity": 1, "C3 diameter": 1, "P1 flatness": 1}, got)
	assert.Equal(t, []string{"C2: of bosses only one about the whole pattern is simulated.",
		"P2: only the mounting face is simulated."}, f.LeftOut)
}

// The same plan, options and seed give the same bytes on one processor and on
// several, and another seed others.
func TestSameOnAnyCores(t *testing.T) {
	forecast := func(jobs, n int, seed uint64) []byte {
		f, err := Run(t.Context(), planOf(t, small), Options{Noise: 0.05, Spacing: 1.1, CorrelationLength: &independent,
			Trials: n, Jobs: jobs, Seed: seed})
		require.NoError(t, err)
		var b bytes.Buffer
		require.NoError(t, report.WriteJSON(&b, f))
		return b.Bytes()
	}
	one := forecast(1, 2, 1)
	assert.Equal(t, string(one), string(forecast(3, 2, 1)))
	var back, other Forecast
	require.NoError(t, json.Unmarshal(one, &back))
	assert.Equal(t, Schema, back.Schema)
	require.NoError(t, json.Unmarshal(forecast(2, 1, 2), &other))
	assert.NotEqual(t, back.Cases[0].Expected[0].Uncertainty, other.Cases[0].Expected[0].Uncertainty)
}

// Where the plan says nothing of it, noise is forecast both ways, and the text says
// so; a band that cannot be judged is named in the first sentence.
func TestTextOfTwoCases(t *testing.T) {
	p := planOf(t, "scanner: {noise: 0.06, spacing: 1.1}\n"+small)
	p.BoltCircles[0].ClockingBand.Lo, p.BoltCircles[0].ClockingBand.Hi = -0.01, 0.01
	f, err := Run(t.Context(), p, Options{Trials: 1})
	require.NoError(t, err)
	require.Len(t, f.Cases, 2)
	assert.Equal(t, 1.0, f.Cases[1].CorrelationLength, "a quarter of a radius of 4")
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, f))
	text := strings.Join(strings.Fields(b.String()), " ")
	assert.Contains(t, text, "but not B1 clocking")
	assert.Contains(t, text, "Noise independent from point to point")
	assert.Contains(t, text, "Noise shared by neighbours over 1.0 mm")
	assert.Contains(t, text, "A forecast approves nothing")
	f.Cases[1].Expected = []Expected{{Feature: "B1", Characteristic: report.Diameter, Answer: No}}
	b.Reset()
	require.NoError(t, WriteText(&b, f))
	text = strings.Join(strings.Fields(b.String()), " ")
	assert.Contains(t, text, "Fusing images to a mesh rounds edges and moves curved walls")
	assert.NotContains(t, text, "NaN")
	assert.NotContains(t, text, "Inf")
}

func TestWhatIsNotSaidIsNotMadeUp(t *testing.T) {
	var missing *MissingError
	_, err := Run(t.Context(), planOf(t, shallow), Options{})
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "noise", missing.Key)
	_, err = Run(t.Context(), planOf(t, shallow), Options{Noise: 0.03})
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "spacing", missing.Key)
	inches := planOf(t, shallow)
	inches.Unit = mesh.Inch
	_, err = Run(t.Context(), inches, Options{})
	assert.ErrorContains(t, err, `"noise: 0.0012" (in)`, "0.03 mm / 25.4")
	for _, o := range []Options{
		{Noise: -1, Spacing: 1}, {Noise: math.NaN(), Spacing: 1}, {Noise: 1, Spacing: math.Inf(1)},
		{Noise: 0.1, Spacing: 0.001}, {Noise: 0.1, Spacing: 50}, {Noise: 0.1, Spacing: 1, Kind: "photo"},
		{Noise: 0.1, Spacing: 1, Depth: -1},
	} {
		_, err := Run(t.Context(), planOf(t, shallow), o)
		assert.Error(t, err, "%+v", o)
	}
}

func TestRunStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	o := Options{Noise: 0.05, Spacing: 0.8, Progress: func(string, int, int) { cancel() }}
	_, err := Run(ctx, planOf(t, shallow), o)
	assert.True(t, errors.Is(err, context.Canceled), "%v", err)
}

// What the plan adds is in the stated uncertainty
func TestPlanIsInIt(t *testing.T) {
	f, err := Run(t.Context(), planOf(t, "scanner: {noise: 0.03, spacing: 1.1, correlation_length: 0.5, length: {a: 0.03, b: 0.0005}}\n"+small),
		Options{Trials: 1})
	require.NoError(t, err)
	require.Len(t, f.Cases, 1, "the length is known")
	for _, e := range f.Cases[0].Expected {
		switch e.Characteristic {
		case report.PitchDiameter:
			assert.InDelta(t, 2*(0.03+0.0005*24), e.FromPlan, 1e-3)
			assert.InDelta(t, math.Hypot(e.FromScan, e.FromPlan), e.Uncertainty, 1e-3)
		case report.ClockingAngle:
			assert.Zero(t, e.FromPlan, "angles have no scale")
		}
	}
}
