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
	plan, scan := smallFiles(t)
	data, err := os.ReadFile(scan)
	require.NoError(t, err)
	planData, err := os.ReadFile(plan)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		stdin string
		args  []string // with FILE where the dash goes
		file  string
	}{
		"measure":        {string(data), []string{"measure", "FILE"}, scan},
		"check a scan":   {string(data), []string{"check", plan, "FILE"}, scan},
		"check a plan":   {string(planData), []string{"check", "FILE", scan}, plan},
		"fit":            {string(data), []string{"fit", "plane", "FILE"}, scan},
		"boltup, one in": {string(data), []string{"boltup", "FILE", scan}, scan},
	} {
		t.Run(name, func(t *testing.T) {
			from := func(file string) result {
				args := strings.Split(strings.ReplaceAll(strings.Join(c.args, "\n"), "FILE", file), "\n")
				return spotfaceInput(t.Context(), c.stdin, args...)
			}
			in, want := from("-"), from(c.file)
			assert.Equal(t, want.code, in.code, in.stderr)
			said := strings.NewReplacer(c.file, inputName, filepath.Base(c.file), inputName)
			words := func(s string) []string {
				s, _, _ = strings.Cut(s, "Next:") // a command that names the file
				return strings.Fields(said.Replace(s))
			}
			assert.Equal(t, words(want.stdout), words(in.stdout))
		})
	}
	requireOneLine(t, spotface(t, "check", "-", "-"), "standard input can be read once")
	requireOneLine(t, spotface(t, "measure", "-"), inputName, "empty")
}

func TestTheExtensionSaysTheFormat(t *testing.T) {
	_, scan := smallFiles(t)
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
			r := spotface(t, append([]string{"measure", scan, "-o", out}, c.args...)...)
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
	plan, _ := demoFiles(t)
	saved, r := savedOnce()
	require.Equal(t, exitConforming, r.code, r.stderr)
	assert.Contains(t, r.stderr, "ONE IS OFF")
	of := spotface(t, "check", plan, saved)
	assert.Equal(t, exitNonconforming, of.code, of.stderr)
	answer, _, _ := strings.Cut(of.stdout, "More:")
	assert.Contains(t, demoOnce().stdout, answer)
	requireOneLine(t, spotface(t, "check", plan, saved, "--unit", "in"), "this is a report")
}
