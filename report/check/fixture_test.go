package check

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
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

func judgedBy(t testing.TB, rep *report.Report, p *plan.Plan) *report.Report {
	t.Helper()
	j, err := Check(p, rep)
	require.NoError(t, err)
	return rep.Judged(j)
}

// judged is the report with its judgement by a plan.
func judged(t testing.TB, rep *report.Report, yaml string) *report.Report {
	t.Helper()
	return judgedBy(t, rep, parse(t, yaml))
}

func checked(t testing.TB, p testpart.Part, yaml string) *report.Report {
	t.Helper()
	return judged(t, reportOf(t, p), yaml)
}

func textOf(t testing.TB, rep *report.Report) string {
	t.Helper()
	v, err := report.NewView(rep, report.ViewOptions{})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, report.WriteText(&b, report.TextOptions{Full: true}, v))
	return b.String()
}

func jsonOf(t testing.TB, rep *report.Report) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.WriteJSON(&b, rep))
	return b.String()
}

func find(t *testing.T, rep *report.Report, feature string, what report.Characteristic) report.Result {
	t.Helper()
	for _, r := range rep.Results {
		if r.Feature == feature && r.Characteristic == what {
			return r
		}
	}
	require.Fail(t, "no such result", "%s %s in %v", feature, what, rep.Results)
	return report.Result{}
}
