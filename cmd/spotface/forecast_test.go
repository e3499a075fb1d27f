package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report/forecast"
)

const forecastPlan = `part: kettle port ring
scanner: {noise: 0.02, spacing: 1.0}
bolt_circles: [{id: B1, count: 6, pitch_diameter: {nominal: 30}, hole_diameter: {nominal: 8}, clocking: {band: [-0.5, 0.5]}}]
`

func TestForecast(t *testing.T) {
	dir := t.TempDir()
	plan := write(t, dir, "port.yaml", forecastPlan)
	out := filepath.Join(dir, "out.json")
	r := spotface(t, "forecast", plan, "--trials", "1", "--correlation-length", "0.5", "--kind", "cloud", "--format", "json", "-o", out)
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Empty(t, r.stdout)
	var f forecast.Forecast
	data, err := os.ReadFile(out)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &f))
	assert.Equal(t, forecast.Cloud, f.Scan.Kind)
	require.Len(t, f.Cases, 1)
	assert.Equal(t, 0.5, f.Cases[0].CorrelationLength)
	assert.Len(t, f.Cases[0].Expected, 1)
	assert.Positive(t, f.Cases[0].OnHole)
}

func TestForecastRefuses(t *testing.T) {
	dir := t.TempDir()
	plan := write(t, dir, "port.yaml", forecastPlan)
	bare := write(t, dir, "bare.yaml", forecastPlan[len("part: kettle port ring\nscanner: {noise: 0.02, spacing: 1.0}\n"):])
	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"no plan":            {[]string{"forecast"}, []string{"takes a plan"}},
		"no noise":           {[]string{"forecast", bare}, []string{"bare.yaml", "noise", "--noise"}},
		"no spacing":         {[]string{"forecast", bare, "--noise", "0.1"}, []string{"spacing", "--spacing"}},
		"noise below zero":   {[]string{"forecast", plan, "--noise", "-1"}, []string{"--noise -1", "above zero"}},
		"length below zero":  {[]string{"forecast", plan, "--correlation-length", "-1"}, []string{"correlation length of -1"}},
		"no such kind":       {[]string{"forecast", plan, "--kind", "photo"}, []string{`"photo"`, "mesh", "cloud"}},
		"no trials":          {[]string{"forecast", plan, "--trials", "0"}, []string{"--trials 0"}},
		"far too fine":       {[]string{"forecast", plan, "--spacing", "0.001"}, []string{"million points", "wider spacing"}},
		"output over plan":   {[]string{"forecast", plan, "-o", plan}, []string{"would overwrite"}},
		"format of no kind":  {[]string{"forecast", plan, "--format", "png"}, []string{`"png"`}},
		"a plan not there":   {[]string{"forecast", filepath.Join(dir, "no.yaml")}, []string{"no.yaml", "no such file"}},
		"a plan of no sizes": {[]string{"forecast", write(t, dir, "p.yaml", "scanner: {noise: 1, spacing: 1}\nbolt_circles: [{id: B1, count: 6, hole_diameter: {nominal: 3}, clocking: {band: [-1, 1]}}]\n")}, []string{"pitch_diameter"}},
	} {
		t.Run(name, func(t *testing.T) { requireOneLine(t, spotface(t, c.args...), c.says...) })
	}
}
