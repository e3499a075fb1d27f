package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The scan moved into the part's frame is measured as it was, with the frame at its origin;
// a report gives the same CAD file as the scan that it is of.
func TestExport(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	require.Equal(t, exitConforming, demoOnce().code)
	scan := filepath.Join(scratch, demoScanName)
	r := spotface(t, "export", scan, in("a.step"), in("moved.stl"), in("a.pdf"), in("a.svg"), in("a.png"), in("a.glb"), in("a.ply"), "--thickness", "6")
	require.Equal(t, exitConforming, r.code, r.stderr)
	require.Equal(t, exitConforming, spotface(t, "measure", scan, "-o", in("a.json")).code)
	require.Equal(t, exitConforming, spotface(t, "export", in("a.json"), in("b.step"), "--thickness", "6").code)
	read := func(name string) string {
		data, err := os.ReadFile(in(name))
		require.NoError(t, err)
		return string(data)
	}
	assert.Contains(t, read("a.step"), "MANIFOLD_SOLID_BREP")
	for name, start := range map[string]string{"a.pdf": "%PDF-", "a.svg": "<?xml", "a.png": "\x89PNG", "a.glb": "glTF", "a.ply": "ply\n"} {
		assert.Equal(t, start, read(name)[:len(start)], name)
	}
	assert.Contains(t, read("b.step"), "MANIFOLD_SOLID_BREP")

	r = spotface(t, "measure", in("moved.stl"), "--format", "json")
	var moved struct {
		Frame struct{ Origin, Z [3]float64 }
	}
	require.NoError(t, json.Unmarshal([]byte(r.stdout), &moved))
	assert.InDelta(t, 1, moved.Frame.Z[2], 1e-6)
	assert.InDeltaSlice(t, []float64{0, 0, 0}, moved.Frame.Origin[:], 2e-3) // a tenth of the noise: other samples are drawn

	requireOneLine(t, spotface(t, "export", in("a.json"), in("c.stl")), "give the scan instead")
	requireOneLine(t, spotface(t, "export", scan, in("c.txt")), ".stl or .svg")
	requireOneLine(t, spotface(t, "export", scan, in("c.stl"), in("c.stl")), "FILE 1 and FILE 2 both name")
	requireOneLine(t, spotface(t, "export", scan, in("c.step"), "--thickness", "-1"), "above zero")
	requireOneLine(t, spotface(t, "export", scan, in("c.pdf"), "--paper", "A9"), "A4 or Letter")
	assert.NoFileExists(t, in("c.stl"))
}
