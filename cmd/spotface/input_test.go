package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A dash is standard input, for scans, points and plans alike, and reads as the file does.
func TestStandardInput(t *testing.T) {
	_, scan := smallFiles(t)
	plan, _ := demoPair(t)
	data, err := os.ReadFile(scan)
	require.NoError(t, err)
	planData, err := os.ReadFile(plan)
	require.NoError(t, err)
	// in reads standard input in the place of the file.
	in := func(stdin []byte, args ...string) result { return spotfaceInput(t.Context(), string(stdin), args...) }
	words := func(s string) []string {
		s, _, _ = strings.Cut(s, "More:") // where the file is named to go on with
		return strings.Fields(strings.NewReplacer(scan, "standard input", filepath.Base(scan), "standard input").Replace(s))
	}
	piped := in(data, "measure", "-", "--unit", "mm")
	assert.Equal(t, words(smallText(t)), words(piped.stdout), piped.stderr)
	points := in(data, "fit", "plane", "-")
	assert.Equal(t, words(spotface(t, "fit", "plane", scan).stdout), words(points.stdout), points.stderr)
	saved, _ := savedOnce()
	judged := in(planData, "check", "-", saved)
	assert.Equal(t, exitNonconforming, judged.code, judged.stderr)
	requireOneLine(t, spotface(t, "check", "-", "-"), "standard input can be read once")
	requireOneLine(t, spotface(t, "measure", "-"), "standard input", "empty")
}

func TestTheExtensionSaysTheFormat(t *testing.T) {
	plan, _ := smallFiles(t)
	for name, c := range map[string]struct {
		file string
		args []string
		json bool
	}{
		"an extension":                   {"a.json", nil, true},
		"a flag goes before":             {"a.json", []string{"--format", "text"}, false},
		"an extension that says nothing": {"a.txt", nil, false},
	} {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), c.file)
			r := spotface(t, append([]string{"check", plan, smallSaved(t), "-o", out}, c.args...)...)
			require.Equal(t, exitConforming, r.code, r.stderr)
			got, err := os.ReadFile(out)
			require.NoError(t, err)
			assert.Equal(t, c.json, got[0] == '{')
		})
	}
}

func TestVersionFlag(t *testing.T) {
	flag, command := spotface(t, "--version"), spotface(t, "version")
	assert.Equal(t, exitConforming, flag.code)
	assert.Equal(t, command, flag)
}

func TestFlagsThatAreNearlyRight(t *testing.T) {
	requireOneLine(t, spotface(t, "measure", "x.stl", "--untis", "mm"), "did you mean --unit?")
	requireOneLine(t, spotface(t, "measure", "x.stl", "--nothing-like-it"), "see `spotface measure --help`")
}

// The shell asks the hidden command for what may follow.
func TestCompletionOfFlagValues(t *testing.T) {
	for flag, want := range map[string][]string{
		"--unit":   {"mm", "cm", "m", "in", "ft"},
		"--format": formats[:],
	} {
		r := spotface(t, "__complete", "measure", flag, "")
		assert.Equal(t, want, strings.Fields(r.stdout)[:len(want)], flag)
	}
}

// A saved report is judged as its scan is, and with -o the answer is on standard error.
func TestCheckOfASavedReport(t *testing.T) {
	plan, _ := demoPair(t)
	saved, r := savedOnce()
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stderr, "ONE IS OFF")
	of := spotface(t, "check", plan, saved)
	assert.Equal(t, exitNonconforming, of.code, of.stderr)
	answer, _, _ := strings.Cut(of.stdout, "More:")
	assert.Contains(t, demoOnce().stdout, answer)
	requireOneLine(t, spotface(t, "check", plan, saved, "--unit", "in"), "this is a report")
}
