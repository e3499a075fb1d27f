package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/check"
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

func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

var reportOf, built, said, jsonOf, textOf = testreport.Of, testreport.Built, testreport.Said, testreport.JSON, testreport.Full

// screenOf is the first screen.
func screenOf(t testing.TB, rep *report.Report) string {
	return said(t, report.TextOptions{}, report.ViewOptions{}, rep)
}
