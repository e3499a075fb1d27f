package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
)

func TestHowHolesAreMade(t *testing.T) {
	rep := &report.Report{Holes: []report.Hole{
		{ID: "H1", Kind: "round", Diameter: 6.6, Through: true, Counterbore: &report.Counterbore{Diameter: 11.02, Depth: 6.4}},
		{ID: "H2", Kind: "round", Diameter: 6.6, Through: true, Counterbore: &report.Counterbore{Diameter: 10.98, Depth: 6.6}},
		{ID: "H3", Kind: "round", Diameter: 4.5, Countersink: &report.Countersink{Diameter: 9, AngleDeg: 90}},
		{ID: "H4", Kind: "round", Diameter: 6.65, Depth: 14, Thread: &report.Thread{Pitch: 1.25, Minor: 6.65, Major: 8}},
		{ID: "H5", Kind: "round", Diameter: 5, Through: true},
	}}
	v, err := report.NewView(rep, report.ViewOptions{})
	require.NoError(t, err)
	assert.Equal(t, []string{"2 holes counterbored 11.00, 6.50 deep", "1 hole countersunk 9.00 at 90 degrees",
		"1 hole blind, 14.00 deep", "1 hole tapped, pitch 1.25, major 8.00"}, v.Sizes[:4])
	var text strings.Builder
	require.NoError(t, report.WriteText(&text, report.TextOptions{Full: true}, v))
	assert.Regexp(t, `H4\s+no\s+14\.00\s+pitch 1\.25, minor 6\.65, major 8\.00`, text.String())
	assert.Contains(t, text.String(), "a scan shows no thread")
	assert.NotRegexp(t, `(?m)^  H5 +yes`, text.String())
	v, err = report.NewView(rep, report.ViewOptions{Inches: true})
	require.NoError(t, err)
	assert.Contains(t, v.Sizes[0], "counterbored 0.433, 0.256 deep")
}
