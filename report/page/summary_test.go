package page_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/batch"
	"spotface/report/check"
	"spotface/report/page"
	"spotface/report/plan"
)

// lids are thirty parts whose bore grows by 0.05 mm over the batch.
func lids(t *testing.T) *batch.Summary {
	t.Helper()
	p, err := plan.Parse("lid.yaml", []byte("part: lid <b>\n"+
		"cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: +-0.1}}]\n"))
	require.NoError(t, err)
	sum, err := p.Checksum()
	require.NoError(t, err)
	var lines bytes.Buffer
	for i := range 30 {
		rep := &report.Report{Schema: report.Schema, Cylinders: []report.Cylinder{{ID: "C1",
			Side: report.Internal, Axis: report.Vec{0, 0, 1},
			Diameter:    40 + 0.05*float64(i)/29 + 0.004*float64(i*7%5-2),
			Uncertainty: report.Uncertainty{Diameter: 0.01}}}}
		j, err := check.Check(p, rep)
		require.NoError(t, err)
		line := batch.Line{PlanChecksum: sum, Number: i + 1, Path: fmt.Sprintf("lid-%d.stl", i+1),
			Report: rep.Judged(j)}
		require.NoError(t, line.Write(&lines))
	}
	b, err := batch.New(p)
	require.NoError(t, err)
	require.NoError(t, b.Read(t.Context(), "results.jsonl", &lines))
	s, err := b.Summary()
	require.NoError(t, err)
	return s
}

func writeSummary(t *testing.T, s *batch.Summary) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, page.WriteSummary(&b, s, "test"))
	return b.String()
}

// The page of many parts says what the text says, and draws every part where it is.
func TestPageOfManyParts(t *testing.T) {
	s := lids(t)
	text := writeSummary(t, s)
	assert.NotContains(t, text, "://", "nothing is asked for from elsewhere")
	assert.NotContains(t, text, "lid <b>")
	seen := words(text)
	says := append(append(s.Headline(true), s.Advice(true)...), "Control charts", "C1 diameter, mm",
		"Broken lines: the plan's band.", s.Characteristics[0].Chart.Signals[0].Part)
	table, _ := s.Table(true, 1)
	for _, cell := range append(says, table.Rows[0]...) {
		assert.Contains(t, seen, strings.ReplaceAll(cell, "+-", "±"))
	}
	assert.Contains(t, seen, "C1 DRIFTS")
	_, line, ok := strings.Cut(text, "<polyline")
	require.True(t, ok)
	points, _, _ := strings.Cut(line, "/>")
	assert.Equal(t, 30, strings.Count(points, ","))
	assert.Equal(t, len(s.Characteristics[0].Chart.Signals), strings.Count(text, `"dot off"`))
}
