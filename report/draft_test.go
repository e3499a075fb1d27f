package report

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
)

func draftOf(t *testing.T, rep *Report) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteDraft(&b, rep))
	return b.String()
}

func oddPort() part {
	p := kettlePort()
	p.pitch, p.angles[2] = 84.06, 120.1
	p.extra, p.extraD = []r3.Vector{{X: -30, Y: 35}}, 12.04
	return p
}

func TestDraftGolden(t *testing.T) {
	golden(t, "draft.yaml", draftOf(t, oddPort().report(t)), 1.1e-2)
}

// A unit that the file did not state stays assumed in the draft, so that a check says so
// again; one that was given is the plan's.
func TestDraftKeepsAnAssumedUnit(t *testing.T) {
	rep := oddPort().report(t)
	for source, want := range map[string]mesh.Unit{"assumed": "", "given": "mm", "file": ""} {
		rep.Scan.UnitSource = source
		p, err := ParsePlan("draft.yaml", []byte(draftOf(t, rep)))
		require.NoError(t, err)
		assert.Equal(t, want, p.ScanUnit, source)
	}
}

// A drafted plan reads back, and the part it came from conforms to it, wherever
// the next scan lies and whichever hole it numbers first.
func TestDraftRoundTrip(t *testing.T) {
	text := draftOf(t, oddPort().report(t))
	p, err := ParsePlan("draft.yaml", []byte(text))
	require.NoError(t, err, text)
	require.Len(t, p.BoltCircles, 1)
	assert.Equal(t, 84.0, p.BoltCircles[0].PitchDiameter.Nominal, "84.06 was meant to be 84")
	assert.Equal(t, 6.6, p.BoltCircles[0].HoleDiameter.Nominal)
	assert.Equal(t, []float64{0, 60, 120, 180, 240, 300}, p.BoltCircles[0].Angles)
	require.Len(t, p.Holes, 1)
	assert.InDelta(t, -30, p.Holes[0].At[0], 0.01)
	assert.InDelta(t, 35, p.Holes[0].At[1], 0.01)
	assert.Contains(t, text, "measured 84.060 +-0.007", "the measured size stands beside the guess")
	for clock := range 6 {
		again := oddPort()
		again.clock, again.turn, again.z = clock, 211, r3.Vector{X: -1, Y: 0.2, Z: 0.4}
		rep := again.report(t)
		require.NoError(t, Check(p, rep))
		assert.Equal(t, Conforming, rep.Verdict, "%s", textOf(t, rep))
		assert.Equal(t, "H1", rep.Frame.Clock)
		assert.Empty(t, rep.Notes)
	}
}

// What a draft leaves as comments is a plan too, once the # is gone.
func TestDraftCommentsAreValid(t *testing.T) {
	text := draftOf(t, oddPort().report(t))
	live := strings.NewReplacer("  # - {", "  - {", "    # position", "    position", "# scanner:", "scanner:").Replace(text)
	require.NotEqual(t, text, live)
	_, err := ParsePlan("draft.yaml", []byte(live))
	require.NoError(t, err, live)
}

func TestDraftOfPartialAndIrregularRings(t *testing.T) {
	partial := part{pitch: 94.38, diameter: 7.18, angles: []float64{0, 60.03, 119.98}, nominal: []float64{0, 60, 120}, u: 0.02, z: r3.Vector{Z: 1}}
	p := parse(t, draftOf(t, partial.report(t)))
	assert.Equal(t, []float64{0, 60, 120}, p.BoltCircles[0].Angles)

	irregular := part{pitch: 70, diameter: 5.5, angles: []float64{0, 47, 160, 231}, irregular: true, u: 0.004, z: r3.Vector{Z: 1}}
	text := draftOf(t, irregular.report(t))
	assert.Contains(t, text, "no regular pattern")
	assert.InDeltaSlice(t, []float64{0, 47, 160, 231}, parse(t, text).BoltCircles[0].Angles, 0.006)
}

func TestDraftOfNothing(t *testing.T) {
	rep := built(t, &mesh.Scan{}, &segment.Segmentation{}, &bolt.Measurement{})
	var b bytes.Buffer
	assert.ErrorIs(t, WriteDraft(&b, rep), ErrNothingToPlan)
	assert.Zero(t, b.Len())
}

// ISO 2768-1:1989, table 1, class m, as in testdata.
func TestGeneralTolerance(t *testing.T) {
	b, err := os.ReadFile("../testdata/report/table-iso2768-1.json")
	require.NoError(t, err)
	var ref struct {
		Rows map[string][4]*float64 `json:"linear_nominal_over_to"`
	}
	require.NoError(t, json.Unmarshal(b, &ref))
	for length, row := range map[float64]string{
		1: "0.5-3", 3: "0.5-3", 5: "3-6", 6: "3-6", 6.1: "6-30", 30: "6-30", 31: "30-120", 120: "30-120",
		121: "120-400", 400: "120-400", 401: "400-1000", 1500: "1000-2000", 3000: "2000-4000",
	} {
		require.Contains(t, ref.Rows, row)
		assert.Equal(t, *ref.Rows[row][1], generalTolerance(length), "%g mm", length)
	}
}
