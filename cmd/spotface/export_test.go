package main

import (
	"html"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scanio"
)

// What needs the scan is written from a scan, all else from a report.
func TestExport(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	saved, r := savedOnce()
	require.Equal(t, exitConforming, r.code, r.stderr)
	plan, _ := demoPair(t)
	_, scan := smallFiles(t)
	r = spotface(t, "export", scan, in("moved.stl"), in("a.glb"), in("a.ply"), in("a.html"))
	require.Equal(t, exitConforming, r.code, r.stderr)
	r = spotface(t, "export", saved, in("saved.step"), in("a.pdf"), in("a.svg"), in("a.png"), in("saved.html"), "--thickness", "6", "--quiet")
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Empty(t, r.stderr, "quiet")
	for name, start := range map[string]string{"a.pdf": "%PDF-", "a.svg": "<?xml", "a.png": "\x89PNG", "a.glb": "glTF", "a.ply": "ply\n",
		"a.html": "<!doctype html>", "saved.html": "<!doctype html>",
		"saved.step": "ISO-10303-21;"} {
		data, err := os.ReadFile(in(name))
		require.NoError(t, err)
		assert.Equal(t, start, string(data[:len(start)]), name)
		if name == "a.html" {
			assert.Contains(t, string(data), "<canvas")
		}
		if strings.HasSuffix(name, ".step") {
			assert.Contains(t, string(data), "MANIFOLD_SOLID_BREP")
		}
	}
	r = spotface(t, "export", saved, in("meant.step"), in("meant.svg"), "--plan", plan, "--thickness", "6")
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Regexp(t, `note: The solid's volume is [0-9.]+ \+-[0-9.]+ cm3`, r.stderr)
	assert.Equal(t, 1, strings.Count(r.stderr, "adopted: B1: pitch diameter 84 mm (measured 8"), "said once")
	template, err := os.ReadFile(in("meant.svg"))
	require.NoError(t, err)
	assert.Contains(t, string(template), "NOMINALS of the plan")
	meant, err := os.ReadFile(in("meant.step"))
	require.NoError(t, err)
	assert.Regexp(t, `CARTESIAN_POINT\('',\(42\.,`, string(meant))
	requireOneLine(t, spotface(t, "export", saved, plan, "--plan", plan), "nothing is written as")
	moved, err := scanio.Read(t.Context(), in("moved.stl"), scanio.Options{})
	require.NoError(t, err)
	level := 0
	for i := range moved.Len() {
		if math.Abs(moved.Point(i).Z) < 0.1 {
			level++
		}
	}
	assert.Greater(t, level, moved.Len()/3, "the mounting face is the plane z = 0")

	// The table is what the other commands print, in any unit.
	r = spotface(t, "export", saved, in("a.csv"), "--show", "in")
	require.Equal(t, exitConforming, r.code, r.stderr)
	table, err := os.ReadFile(in("a.csv"))
	require.NoError(t, err)
	assert.Equal(t, spotface(t, "measure", saved, "--format", "csv", "--show", "in").stdout, string(table))
	r = spotface(t, "export", saved, in("b.csv"), "--plan", plan)
	require.Equal(t, exitConforming, r.code, r.stderr)
	table, err = os.ReadFile(in("b.csv"))
	require.NoError(t, err)
	assert.Equal(t, spotface(t, "check", plan, saved, "--format", "csv").stdout, string(table))

	// The plan's band of the surface is grey in every picture, and judges nothing.
	text, err := os.ReadFile(plan)
	require.NoError(t, err)
	banded := in("banded.yaml")
	require.NoError(t, os.WriteFile(banded, append(text, "surface: {band: [-0.02, 0.4]}\n"...), 0o600))
	r = spotface(t, "export", scan, in("band.glb"), in("band.html"), "--plan", banded)
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stderr, "within the band, -0.020 to +0.400 mm")
	for _, name := range []string{"band.glb", "band.html"} {
		data, err := os.ReadFile(in(name))
		require.NoError(t, err)
		assert.True(t, strings.Contains(html.UnescapeString(string(data)), "within the band, -0.020 to +0.400 mm"), name)
	}
	r = spotface(t, "check", banded, scan, "--format", "json")
	without := spotface(t, "check", plan, scan, "--format", "json")
	assert.Equal(t, without.code, r.code, r.stderr)
	rep, noise := parse(t, r.stdout), parse(t, without.stdout)
	require.NotNil(t, rep.Surface.Lower)
	assert.Equal(t, []float64{-0.02, 0.4}, []float64{*rep.Surface.Lower, *rep.Surface.Upper})
	assert.NotEqual(t, *noise.Surface.WithinBand, *rep.Surface.WithinBand)
	assert.Nil(t, noise.Surface.Lower)
	assert.Equal(t, noise.Results, rep.Results)

	requireOneLine(t, spotface(t, "check", saved, plan), "no plan but a scan or a report")
	requireOneLine(t, spotface(t, "export", saved, in("c.stl")), "give the scan instead")
	requireOneLine(t, spotface(t, "export", scan, in("c.txt")), ".stl or .svg")
	requireOneLine(t, spotface(t, "export", scan, in("c.stl"), in("c.stl")), "FILE 1 and FILE 2 both name")
	requireOneLine(t, spotface(t, "export", scan, in("c.step"), "--thickness", "-1"), "above zero")
	requireOneLine(t, spotface(t, "check", plan, saved, saved, "-o", in("c.html")), "one by one")
	requireOneLine(t, spotface(t, "export", scan, in("c.pdf"), "--paper", "A9"), "A4 or Letter")
	assert.NoFileExists(t, in("c.stl"))
}
