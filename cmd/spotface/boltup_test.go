package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
)

func TestBoltUp(t *testing.T) {
	plan, _ := smallFiles(t)
	saved := write(t, t.TempDir(), "port.json", smallJSON(t))

	r := spotface(t, "boltup", saved, plan, "--format", "json")
	require.Equal(t, exitConforming, r.code, r.stderr)
	var up report.BoltUp
	require.NoError(t, json.Unmarshal([]byte(r.stdout), &up))
	assert.Equal(t, 6.0, up.Fastener, "the largest that enters holes of 6.6 mm")
	assert.Len(t, up.Ways, 6)

	r = spotface(t, "boltup", saved, plan, "--fastener", "8")
	assert.Equal(t, exitNonconforming, r.code, r.stderr)
	assert.Contains(t, r.stdout, "port.json and small.yaml do NOT bolt up with 6 fasteners of 8 mm.")

	r = spotface(t, "boltup", saved, plan, "--show", "in")
	assert.Contains(t, r.stdout, "bolt up with 6 fasteners of 0.2362 in (M6).") // 6 mm / 25.4
	assert.Contains(t, r.stdout, "float, in")
	assert.NotContains(t, r.stdout, " mm")

	dir := t.TempDir()
	sensor := write(t, dir, "sensor.yaml", `bolt_circles: [{id: B1, count: 4,
  pitch_diameter: {nominal: 60, band: [-0.2, 0.2]}, hole_diameter: {nominal: 5.5, band: [0, 0.2]}}]`)
	plates := []string{filepath.Join(dir, "plate.step"), filepath.Join(dir, "plate.stl")}
	r = spotface(t, append([]string{"boltup", saved, sensor, "--thickness", "8"}, plates...)...)
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stdout, "tap M6")
	text, err := os.ReadFile(plates[0])
	require.NoError(t, err)
	assert.Contains(t, string(text), "MANIFOLD_SOLID_BREP")
	assert.Less(t, len(text), 20_000)
	r = spotface(t, "measure", plates[1], "--unit", "mm")
	assert.Contains(t, r.stdout, "4 holes, 90 degrees apart, on a bolt circle of 60.000", r.stderr)

	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"one part":              {[]string{saved}, []string{"takes two parts"}},
		"no such report":        {[]string{saved, filepath.Join(dir, "no.json")}, []string{"no.json", "no such file"}},
		"not a report":          {[]string{write(t, dir, "x.json", "{}"), plan}, []string{"x.json", "schema"}},
		"a plan of no ring":     {[]string{saved, write(t, dir, "p.yaml", "planes: [{id: P1, flatness: 1}]\n")}, []string{"p.yaml", "no bolt circle"}},
		"fastener of zero":      {[]string{saved, plan, "--fastener", "0"}, []string{"--fastener 0", "above zero"}},
		"plate of no format":    {[]string{saved, plan, filepath.Join(dir, "x.dxf"), "--thickness", "8"}, []string{"x.dxf", ".step or .stl"}},
		"plate of no thickness": {[]string{saved, plan, plates[0]}, []string{"--thickness MM"}},
		"plate in inches":       {[]string{saved, sensor, plates[0], "--thickness", "8", "--show", "in"}, []string{"in mm alone"}},
		"thickness of no plate": {[]string{saved, plan, "--thickness", "8"}, []string{"--thickness is of a plate"}},
		"too little material":   {[]string{saved, sensor, plates[0], "--thickness", "8", "--web", "20"}, []string{"of material would be left", "--web"}},
		"output over a part":    {[]string{saved, plan, "-o", plan}, []string{"would overwrite"}},
	} {
		t.Run(name, func(t *testing.T) {
			requireOneLine(t, spotface(t, append([]string{"boltup"}, c.args...)...), c.says...)
		})
	}
	_, err = os.Stat(plan)
	require.NoError(t, err)
}
