package batch

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/plan"
)

const holePlan = "part: lid\nholes: [{id: X1, diameter: {nominal: 12, band: +-0.1}}]\n"

func parse(t testing.TB, yaml string) *plan.Plan {
	t.Helper()
	p, err := plan.Parse("lid.yaml", []byte(yaml))
	require.NoError(t, err)
	return p
}

// line is one of a part with a single hole, or of a scan that could not be used.
func line(t testing.TB, p *plan.Plan, number int, path, trouble string) string {
	t.Helper()
	sum, err := p.Checksum()
	require.NoError(t, err)
	l := Line{PlanChecksum: sum, Number: number, Path: path, Error: trouble}
	if trouble == "" {
		l.Report = &report.Report{Schema: report.Schema, Part: p.Part, Verdict: report.Conforming}
	}
	var b bytes.Buffer
	require.NoError(t, l.Write(&b))
	return b.String()
}

func TestALineIsAReport(t *testing.T) {
	p := parse(t, holePlan)
	text := line(t, p, 3, "scans/a.stl", "")
	assert.Equal(t, 1, strings.Count(text, "\n"))
	rep, err := report.ReadJSON(strings.NewReader(text))
	require.NoError(t, err)
	assert.Equal(t, "lid", rep.Part)
	var names map[string]any
	require.NoError(t, json.Unmarshal([]byte(text), &names))
	for _, name := range []string{"schema", "plan_checksum", "number", "path", "scan", "planes", "verdict"} {
		assert.Contains(t, names, name)
	}
	names = nil
	require.NoError(t, json.Unmarshal([]byte(line(t, p, 4, "b.stl", "truncated")), &names))
	assert.Len(t, names, 5, "of a scan that cannot be used there is no report")

	bad := Line{Report: &report.Report{Scan: report.Scan{Noise: math.NaN()}}}
	assert.ErrorContains(t, bad.Write(&bytes.Buffer{}), "scan.noise")
}

// Cut anywhere, the whole lines count and nothing else.
func TestProgressOfACutFile(t *testing.T) {
	p := parse(t, holePlan)
	lines := []string{line(t, p, 1, "a.stl", ""), line(t, p, 2, "b.stl", "truncated"),
		line(t, p, 3, "c.stl", "")}
	all := strings.Join(lines, "")
	ends := []int{0, len(lines[0]) - 1, len(lines[0]) + len(lines[1]) - 1, len(all) - 1}
	for cut := range len(all) + 1 {
		done, err := ReadProgress(t.Context(), p, "r.jsonl", strings.NewReader(all[:cut]))
		require.NoError(t, err, "%d", cut)
		want := 0
		for want < 3 && ends[want+1] <= cut {
			want++
		}
		require.Len(t, done.Verdicts, want)
		require.EqualValues(t, ends[want], done.Size)
	}
	done, err := ReadProgress(t.Context(), p, "r.jsonl", strings.NewReader(all))
	require.NoError(t, err)
	assert.Equal(t, map[string]report.Verdict{"a.stl": report.Conforming, "b.stl": "",
		"c.stl": report.Conforming}, done.Verdicts)
}

func TestWhatIsNoResultIsRefused(t *testing.T) {
	p := parse(t, holePlan)
	good := line(t, p, 1, "a.stl", "")
	other := line(t, parse(t, strings.Replace(holePlan, "12", "12.5", 1)), 2, "b.stl", "")
	for name, c := range map[string]struct{ text, says string }{
		"another plan": {good + other,
			`r.jsonl: result 2: b.stl was judged by another plan ("lid") than lid.yaml`},
		"another version": {good + strings.Replace(good, "report/1", "report/9", 1),
			`result 2: a.stl has the schema "spotface-report/9"`},
		"measured, not judged": {`{"schema":"spotface-report/1","scan":{"file":"a.stl"}}` + "\n",
			"measured, not judged"},
		"a broken line between": {good + good[:20] + "\n" + good, "r.jsonl: result 2: invalid character"},
		"no result":             {"solid port\nfacet\n", "r.jsonl: result 1: invalid character"},
		"another list":          {"[1, 2]", "r.jsonl: result 1"},
		"a cut file of another": {`{"schema":"other`, "r.jsonl: result 1: unexpected EOF"},
	} {
		_, err := ReadProgress(t.Context(), p, "r.jsonl", strings.NewReader(c.text))
		assert.ErrorContains(t, err, c.says, name)
	}
}

// Whatever a file holds, reading it ends, and does not count more than is in it.
func FuzzRead(f *testing.F) {
	p := parse(f, holePlan)
	good := line(f, p, 1, "a.stl", "")
	for _, s := range []string{good + line(f, p, 2, "b.stl", "truncated"), "[\n" + good + "]", good[:40]} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		b, err := New(p)
		require.NoError(t, err)
		if b.Read(t.Context(), "r", strings.NewReader(text)) == nil {
			if s, err := b.Summary(); err == nil {
				require.LessOrEqual(t, s.Scans, strings.Count(text, "{"))
				require.NoError(t, report.WriteJSON(&bytes.Buffer{}, s))
				require.NoError(t, WriteText(&bytes.Buffer{}, s, true))
			}
		}
		done, err := ReadProgress(t.Context(), p, "r", strings.NewReader(text))
		if err == nil {
			require.LessOrEqual(t, done.Size, int64(len(text)))
		}
	})
}
