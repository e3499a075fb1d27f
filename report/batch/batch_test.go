package batch

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scansim/trials"
	"spotface/report"
)

func (s *Summary) of(t *testing.T, feature string, what report.Characteristic) *Characteristic {
	t.Helper()
	for i := range s.Characteristics {
		if c := &s.Characteristics[i]; c.Feature == feature && c.Characteristic == what {
			return c
		}
	}
	require.Fail(t, "no such row", "%s %s", feature, what)
	return nil
}

func (d *Drift) what() string {
	return key{d.Feature, d.Characteristic}.name() + ", " + d.Against
}

// 300 parts of which one hole drifts by 0.1 degrees, five scans broken: the hole is named,
// with its drift, and nothing else is.
func TestDrift(t *testing.T) {
	p := parse(t, portPlan)
	l := simulated{parts: 300, made: 0.02, drift: 0.1, seed: 1}.lines(t, p)
	for _, i := range []int{10, 50, 51, 200, 299} {
		l[i] = line(t, p, i+1, fmt.Sprintf("scans/part-%04d.stl", i+1), "truncated")
	}
	s := summaryOf(t, p, strings.Join(l, ""))
	assert.Equal(t, []int{300, 295, 5}, []int{s.Scans, s.Parts, len(s.Unusable)})
	require.Len(t, s.Drifts, 1)
	d := s.Drifts[0]
	assert.Equal(t, "B1/H3 clocking, other holes", d.what())
	assert.InDelta(t, 0.1, d.Change, 2.5*d.Uncertainty) // 5 standard errors
	assert.Less(t, d.Uncertainty, 0.012)
	c := s.of(t, "B1/H3", report.ClockingAngle)
	assert.InDelta(t, 0.1*5/6, c.Trend.Change, 2.5*c.Trend.Uncertainty, "the pattern goes with it")
	assert.False(t, c.Chart.Steady)
	assert.InDelta(t, 0.02, s.of(t, "B1/H1", report.ClockingAngle).Split.Part, 0.004)
	text := textOf(t, s, false)
	assert.Contains(t, text, "B1/H3 DRIFTS: clocking +0.1")
	assert.Regexp(t, `C1 diameter mm .* \+0.020 +scans/part-0001.stl +\+0.020 +scans/part-0001.stl`,
		textOf(t, s, true), "smallest and largest")
	assert.Contains(t, text, "Cannot be used: scans/part-0011.stl, scans/part-0051.stl and 3 more.")

	// All holes together: the drill wears, and no hole is blamed.
	s = summaryOf(t, p, simulated{parts: 100, made: 0.02, wear: -0.02, seed: 2}.text(t, p))
	require.Len(t, s.Drifts, 1)
	assert.Equal(t, "B1 diameter, holes together", s.Drifts[0].what())
	assert.InDelta(t, -0.02, s.Drifts[0].Change, 2.5*s.Drifts[0].Uncertainty)
	assert.Contains(t, textOf(t, s, false), "B1 DRIFTS: diameter -0.02")

	// Nothing drifts: something is said to in one of 100 batches, or fewer, since the figures
	// of a circle are tied to each other.
	n, wrong := trials.Of(400, 300), 0
	rng := rand.New(rand.NewPCG(18, 5))
	for range n {
		var rows []*row
		for i := range 13 {
			w := &row{Characteristic: Characteristic{
				Feature: fmt.Sprintf("B1/H%d", i%6+1), Characteristic: report.ClockingAngle}}
			if i > 5 {
				w.Characteristic.Characteristic = report.Diameter
			}
			if i == 12 {
				w.Feature = "C1"
			}
			for range 30 {
				w.dev = append(w.dev, rng.NormFloat64())
			}
			rows = append(rows, w)
		}
		wrong += min(len(drifts(rows, 30)), 1)
	}
	assert.LessOrEqual(t, wrong, trials.Most(n, driftLevel, trials.Rate))
}

// However the results come, in shards or as whole reports, the summary is the same; what
// came before is not counted again, and what cannot be distinguished is said.
func TestResultsComeInAnyShape(t *testing.T) {
	p := parse(t, portPlan)
	l := simulated{parts: 12, made: 0.02, drift: 0.3, seed: 3}.lines(t, p)
	l[4] = line(t, p, 5, "scans/part-0005.stl", "truncated")
	whole := summaryOf(t, p, strings.Join(l, ""))
	var shards [3]string
	for i, line := range l {
		shards[i%3] += line
	}
	assert.Equal(t, whole, summaryOf(t, p, shards[2], shards[0], shards[1]), "shards in any order")

	twice := summaryOf(t, p, strings.Join(l, ""), l[7]+l[4])
	assert.Equal(t, []string{"scans/part-0008.stl", "scans/part-0005.stl"}, twice.Duplicates)
	twice.Duplicates = nil
	assert.Equal(t, whole, twice)
	mended := strings.Replace(l[3], `"number":4,"path":"scans/part-0004.stl"`,
		`"number":5,"path":"scans/part-0005.stl"`, 1)
	s := summaryOf(t, p, strings.Join(append(l[:3:3], l[4:]...), ""), mended)
	assert.Empty(t, s.Unusable, "it was checked again")

	cut := summaryOf(t, p, strings.Join(l, "")[:len(strings.Join(l, ""))-20])
	assert.Equal(t, 11, cut.Scans)
	assert.Contains(t, cut.Notes[0], "results-1.jsonl is cut")

	var list bytes.Buffer
	list.WriteString("[\n")
	for i, line := range append(l[:4:4], l[5:]...) {
		rep, err := report.ReadJSON(strings.NewReader(line))
		require.NoError(t, err)
		if i > 0 {
			list.WriteString(",\n")
		}
		require.NoError(t, report.WriteJSON(&list, rep))
	}
	list.WriteString("]\n")
	s = summaryOf(t, p, list.String())
	assert.Equal(t, 11, s.Parts)
	assert.InDelta(t, *whole.Characteristics[0].Mean, *s.Characteristics[0].Mean, 1e-15)
	require.Len(t, s.Notes, 1, "one list, in its order")
	assert.Contains(t, s.Notes[0], "In 11 parts a ring fits the plan at several turns")

	other := strings.Replace(l[0], `part-0001`, `part-0099`, 1)
	s = summaryOf(t, p, strings.Join(l, ""), strings.Replace(other, `"sha256":"`, `"sha256":"9`, 1))
	assert.Contains(t, s.Notes[0], "several lists")

	b, err := New(p)
	require.NoError(t, err)
	_, err = b.Summary()
	assert.ErrorContains(t, err, "there is no result")
	wrong := parse(t, strings.Replace(portPlan, "nominal: 84", "nominal: 85", 1))
	b, err = New(wrong)
	require.NoError(t, err)
	assert.ErrorContains(t, b.Read(t.Context(), "r.jsonl", strings.NewReader(l[0])), "another plan")
}

// What a result lacks counts as missing, never as zero, and comes first.
func TestWhatIsMissing(t *testing.T) {
	p := parse(t, portPlan)
	l := simulated{parts: 30, made: 0.02, seed: 4}.lines(t, p)
	// One has no bore, of another the result of a hole was cut out of the file.
	cut := func(line, feature, until string) string {
		from := strings.Index(line, `{"feature":"`+feature+`"`)
		to := from + strings.Index(line[from:], `{"feature":"`+until+`"`)
		require.Greater(t, to, from)
		return line[:from] + line[to:]
	}
	l[7] = cut(l[7], "B1/H2", "B1/H3")
	missing := `{"feature":"C1","characteristic":"diameter","verdict":"missing"},`
	from := strings.Index(l[3], `{"feature":"C1","characteristic":"diameter"`)
	to := from + strings.Index(l[3][from:], `{"feature":"C1","characteristic":"perpendicularity"`)
	l[3] = l[3][:from] + missing + l[3][to:]
	s := summaryOf(t, p, strings.Join(l, ""))
	for _, c := range []*Characteristic{s.of(t, "B1/H2", report.ClockingAngle),
		s.of(t, "C1", report.Diameter)} {
		assert.Equal(t, []int{29, 29, 1}, []int{c.Shown, c.Measured, c.Missing}, c.Feature)
	}
	bored := s.of(t, "C1", report.Diameter)
	assert.InDelta(t, 0.02, *bored.Mean, 1e-9)
	assert.InDelta(t, 0.02, bored.Smallest.Deviation, 1e-9)
	assert.Equal(t, Look{Part: "scans/part-0004.stl", Why: "C1 diameter missing"}, s.LookFirst[0])
	assert.Contains(t, textOf(t, s, false), "C1 diameter mm, 1 missing")

	// A circle that no part shows is a row of its own for each of its characteristics.
	none := parse(t, portPlan+
		"planes: [{id: P1}, {id: P7, flatness: 0.1, at: [0, 0, -300], normal: [0, 0, 1]}]\n")
	s = summaryOf(t, none, simulated{parts: 1, seed: 5}.lines(t, none)...)
	c := s.of(t, "P7", report.Flatness)
	assert.Equal(t, []int{0, 1}, []int{c.Measured, c.Missing})
	assert.Nil(t, c.Mean)
}

func TestCapabilityNeedsPartsAndNormality(t *testing.T) {
	p := parse(t, portPlan)
	l := simulated{parts: leastCapability, made: 0.02, seed: 6}.lines(t, p)
	c := summaryOf(t, p, strings.Join(l, "")).of(t, "B1", report.PitchDiameter)
	require.NotNil(t, c.Capability)
	c = summaryOf(t, p, strings.Join(l[1:], "")).of(t, "B1", report.PitchDiameter)
	assert.Nil(t, c.Capability, "24 parts")
	assert.Equal(t, 24, c.Inside.Inside)
	s := summaryOf(t, p, simulated{parts: 200, drift: 20, seed: 6}.text(t, p))
	c = s.of(t, "B1/H3", report.ClockingAngle)
	assert.False(t, c.Normality.Passes, "spread evenly")
	assert.Nil(t, c.Capability)
	assert.Less(t, c.Inside.Interval.High, 0.2)
}

// The first screen has 25 lines of 88 characters, whatever the plan.
func TestTheFirstScreenFits(t *testing.T) {
	plan := portPlan + "holes:\n"
	for i := range 20 {
		plan += fmt.Sprintf("  - {id: X%d, at: [%d, 60], diameter: {nominal: 12, band: +-0.1}, "+
			"position: {diameter: 0.3}}\n", i+1, 20*i-200)
	}
	p := parse(t, plan)
	l := simulated{parts: 60, made: 0.02, drift: 0.3, wear: 0.1, seed: 7}.lines(t, p)
	for i := range 20 {
		l[i] = line(t, p, i+1, fmt.Sprintf("scans/part-%04d.stl", i+1), "truncated")
	}
	s := summaryOf(t, p, strings.Join(l, ""), strings.Join(l[30:], ""))
	text := textOf(t, s, false)
	assert.LessOrEqual(t, strings.Count(text, "\n"), 25, text)
	for row := range strings.Lines(text) {
		assert.LessOrEqual(t, utf8.RuneCountInString(row), 89, row)
	}
	assert.Contains(t, text, "Counted before, so not again: scans/part-0031.stl, scans/part-0032")
	assert.Greater(t, strings.Count(textOf(t, s, true), "\n"), 60)
}

func TestInches(t *testing.T) {
	p := parse(t, portPlan)
	l := simulated{parts: 30, made: 0.02, seed: 8}.text(t, p)
	b, err := New(p)
	require.NoError(t, err)
	b.Inches = true
	require.NoError(t, b.Read(t.Context(), "r", strings.NewReader(l)))
	in, err := b.Summary()
	require.NoError(t, err)
	mm := summaryOf(t, p, l)
	for i, c := range mm.Characteristics {
		k, f := in.Characteristics[i], 1.0
		if c.Unit == "mm" {
			assert.Equal(t, "in", k.Unit)
			f = 25.4
		}
		assert.InDelta(t, *c.Mean, *k.Mean*f, 1e-12)
		if c.Capability != nil {
			assert.InEpsilon(t, c.Capability.Cpk, k.Capability.Cpk, 1e-9)
			assert.InEpsilon(t, c.Split.Measuring, k.Split.Measuring*f, 1e-9)
		}
	}
}

func TestForms(t *testing.T) {
	p := parse(t, portPlan)
	s := summaryOf(t, p, simulated{parts: 30, made: 0.02, seed: 9}.text(t, p))
	var b bytes.Buffer
	require.NoError(t, report.WriteJSON(&b, s))
	var back Summary
	require.NoError(t, json.Unmarshal(b.Bytes(), &back))
	assert.Equal(t, s.Drifts, back.Drifts)
	assert.Len(t, back.Characteristics, len(s.Characteristics))

	b.Reset()
	require.NoError(t, WriteCSV(&b, s))
	table, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, table, 1+len(s.Characteristics))
	head := strings.Join(table[0], " ")
	for _, name := range strings.Fields(`feature characteristic unit nominal lower upper measured missing
		mean spread smallest_deviation smallest_part trend_change trend_uncertainty split_share split_part
		capability_cp capability_cpk capability_cpk_interval_low inside_inside chart_upper
		chart_signals`) {
		assert.Contains(t, head, name)
	}
}

// Ten thousand parts in 5 s and 200 MB.
func BenchmarkSummary(b *testing.B) {
	p := parse(b, portPlan)
	l := simulated{parts: 200, made: 0.02, seed: 1}.lines(b, p)
	for b.Loop() {
		sum, err := New(p)
		require.NoError(b, err)
		for k := range 50 {
			text := strings.ReplaceAll(strings.Join(l, ""), `"sha256":"`, fmt.Sprintf(`"sha256":"%d-`, k))
			require.NoError(b, sum.Read(b.Context(), "r", strings.NewReader(text)))
		}
		s, err := sum.Summary()
		require.NoError(b, err)
		require.Equal(b, 10_000, s.Parts)
		require.NoError(b, WriteText(&bytes.Buffer{}, s, true))
	}
}
