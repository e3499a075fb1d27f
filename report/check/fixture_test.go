package check

import (
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/internal/testpart"
	"spotface/report/internal/testreport"
	"spotface/report/plan"
)

func parse(t testing.TB, yaml string) *plan.Plan {
	t.Helper()
	p, err := plan.Parse("port.yaml", []byte(yaml))
	require.NoError(t, err)
	return p
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

var reportOf, textOf, jsonOf = testreport.Of, testreport.Full, testreport.JSON
