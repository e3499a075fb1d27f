// Package testreport makes reports of hand-made parts, and says them, for tests of the packages
// above report. Tests alone use it.
package testreport

import (
	"bytes"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
	"spotface/report/internal/testpart"
)

// saved are the reports of parts as JSON, since most tests are of the same few.
var saved sync.Map

// Of is the report of a part, the caller's own.
func Of(t testing.TB, p testpart.Part) *report.Report {
	t.Helper()
	key := fmt.Sprintf("%+v", p)
	text, ok := saved.Load(key)
	if !ok {
		s, seg, m := p.Measure(t)
		text = JSON(t, Built(t, s, seg, m))
		saved.Store(key, text)
	}
	rep, err := report.ReadJSON(strings.NewReader(text.(string)))
	require.NoError(t, err)
	return rep
}

// Built is the report of what was found in a scan.
func Built(t testing.TB, s *mesh.Scan, seg *segment.Segmentation,
	m *bolt.Measurement) *report.Report {
	t.Helper()
	rep, err := report.Build(t.Context(), s, seg, m)
	require.NoError(t, err)
	return rep
}

// Said is what reports say as text.
func Said(t testing.TB, opt report.TextOptions, how report.ViewOptions,
	reps ...*report.Report) string {
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

// Full is all that a report says.
func Full(t testing.TB, rep *report.Report) string {
	t.Helper()
	return Said(t, report.TextOptions{Full: true}, report.ViewOptions{}, rep)
}

// JSON is a report as programs read it.
func JSON(t testing.TB, rep *report.Report) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.WriteJSON(&b, rep))
	return b.String()
}
