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
	plan, scan := smallFiles(t)
	saved := filepath.Join(t.TempDir(), "port.json")
	require.Equal(t, exitConforming, spotface(t, "measure", scan, "-o", saved, "--format", "json").code)

	r := spotface(t, "boltup", saved, plan, "--format", "json")
	require.Equal(t, exitConforming, r.code, r.stderr)
	var up report.BoltUp
	require.NoError(t, json.Unmarshal([]byte(r.stdout), &up))
	assert.Equal(t, 6.0, up.Fastener, "the largest that enters holes of 6.6 mm")
	assert.Len(t, up.Ways, 6)

	r = spotface(t, "boltup", saved, plan, "--fastener", "8")
	assert.Equal(t, exitNonconforming, r.code, r.stderr)
	assert.Contains(t, r.stdout, "port.json and small.yaml do NOT bolt up with 6 fasteners of 8 mm.")

	dir := t.TempDir()
	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"one part":           {[]string{saved}, []string{"takes two parts"}},
		"no such report":     {[]string{saved, filepath.Join(dir, "no.json")}, []string{"no.json", "no such file"}},
		"not a report":       {[]string{write(t, dir, "x.json", "{}"), plan}, []string{"x.json", "schema"}},
		"a plan of no ring":  {[]string{saved, write(t, dir, "p.yaml", "planes: [{id: P1, flatness: 1}]\n")}, []string{"p.yaml", "no bolt circle"}},
		"fastener of zero":   {[]string{saved, plan, "--fastener", "0"}, []string{"--fastener 0", "above zero"}},
		"output over a part": {[]string{saved, plan, "-o", plan}, []string{"would overwrite"}},
	} {
		t.Run(name, func(t *testing.T) {
			requireOneLine(t, spotface(t, append([]string{"boltup"}, c.args...)...), c.says...)
		})
	}
	_, err := os.Stat(plan)
	require.NoError(t, err)
}
