package main

import (
	"encoding/json"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report/plan"
)

// The program in README is built as it is there, laid over the module as a
// package of its own, and run on a scan.
func TestReadmeProgramRuns(t *testing.T) {
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	readme, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	found := regexp.MustCompile("(?s)```go\n(.*?)```").FindAllSubmatch(readme, -1)
	require.Len(t, found, 1, "one program in README.md")

	dir := t.TempDir()
	source := write(t, dir, "main.go", string(found[0][1]))
	overlay, err := json.Marshal(map[string]map[string]string{
		"Replace": {filepath.Join(root, "cmd", "fromreadme", "main.go"): source},
	})
	require.NoError(t, err)
	program := filepath.Join(dir, "program")
	build := exec.CommandContext(t.Context(), "go", "build", "-buildvcs=false", "-o", program,
		"-overlay", write(t, dir, "overlay.json", string(overlay)), "./cmd/fromreadme")
	build.Dir = root
	out, err := build.CombinedOutput()
	require.NoError(t, err, "%s", out)

	_, scan := smallFiles(t)
	data, err := os.ReadFile(scan)
	require.NoError(t, err)
	write(t, dir, "port.stl", string(data))
	cmd := exec.CommandContext(t.Context(), program)
	cmd.Dir = dir
	out, err = cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	assert.Regexp(t, `(?m)^B1: 6 holes on \d+\.\d\d mm$`, string(out))
}

// README's plan is one: the demo's.
func TestReadmeShowsAPlan(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	found := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindSubmatch(readme)
	require.NotNil(t, found)
	shown, err := plan.Parse("README.md", found[1])
	require.NoError(t, err)
	demo, err := plan.Parse("README.md", demoPlan)
	require.NoError(t, err)
	assert.Equal(t, demo, shown)
}

// README shows what the demo prints, but for last digits, which differ between processors.
func TestReadmeShowsTheDemo(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	found := regexp.MustCompile("(?s)```text\n(.*?)```").FindSubmatch(readme)
	require.NotNil(t, found)
	digits := regexp.MustCompile(`[-+]?[0-9.]+`)
	words := func(s string) string { return digits.ReplaceAllString(strings.Join(strings.Fields(s), " "), "0") }
	assert.Contains(t, words(demoOnce().stdout), words(string(found[1])))
}

// README's drawing is the demo's: of its pixels at most 1 in 100 differ, by digits that
// differ between processors.
func TestReadmeShowsTheDrawing(t *testing.T) {
	saved, r := savedOnce()
	require.Equal(t, exitConforming, r.code, r.stderr)
	data, err := os.ReadFile(saved)
	require.NoError(t, err)
	dir := t.TempDir()
	drawn := filepath.Join(dir, "drawing.png")
	r = spotface(t, "export", write(t, dir, "kettle-port.json", string(data)), drawn)
	require.Equal(t, exitConforming, r.code, r.stderr)
	pixels := func(file string) image.Image {
		f, err := os.Open(file)
		require.NoError(t, err)
		defer f.Close()
		img, err := png.Decode(f)
		require.NoError(t, err)
		return img
	}
	got, want := pixels(drawn), pixels("../../testdata/pictures/drawing.png")
	require.Equal(t, want.Bounds(), got.Bounds(), "make it anew with the line that README gives")
	differ := 0
	for y := range got.Bounds().Dy() {
		for x := range got.Bounds().Dx() {
			if got.At(x, y) != want.At(x, y) {
				differ++
			}
		}
	}
	assert.Less(t, differ, got.Bounds().Dx()*got.Bounds().Dy()/100)
}
