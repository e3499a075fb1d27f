package report_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/internal/testpart"
	"spotface/report/plan"
)

func parse(t testing.TB, yaml string) *plan.Plan {
	t.Helper()
	p, err := plan.Parse("port.yaml", []byte(yaml))
	require.NoError(t, err)
	return p
}

func reportOf(t testing.TB, p testpart.Part) *report.Report {
	t.Helper()
	s, seg, m := p.Measure(t)
	return built(t, s, seg, m)
}

func built(t testing.TB, s *mesh.Scan, seg *segment.Segmentation, m *bolt.Measurement) *report.Report {
	t.Helper()
	rep, err := report.Build(t.Context(), s, seg, m)
	require.NoError(t, err)
	return rep
}

// judged is the report with its judgement by a plan.
func judged(t testing.TB, rep *report.Report, yaml string) *report.Report {
	t.Helper()
	j, err := check.Check(parse(t, yaml), rep)
	require.NoError(t, err)
	return rep.Judged(j)
}

func checked(t testing.TB, p testpart.Part, yaml string) *report.Report {
	t.Helper()
	return judged(t, reportOf(t, p), yaml)
}

// textOf is the full text, screenOf the first screen.
func textOf(t testing.TB, rep *report.Report) string {
	return said(t, report.TextOptions{Full: true}, report.ViewOptions{}, rep)
}

func screenOf(t testing.TB, rep *report.Report) string {
	return said(t, report.TextOptions{}, report.ViewOptions{}, rep)
}

func said(t testing.TB, opt report.TextOptions, how report.ViewOptions, reps ...*report.Report) string {
	t.Helper()
	var views []*report.View
	for _, rep := range reps {
		v, err := report.NewView(rep, how)
		require.NoError(t, err)
		views = append(views, v)
	}
	var b bytes.Buffer
	require.NoError(t, report.WriteText(&b, opt, views...))
	return b.String()
}

func jsonOf(t testing.TB, rep *report.Report) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.WriteJSON(&b, rep))
	return b.String()
}

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }
