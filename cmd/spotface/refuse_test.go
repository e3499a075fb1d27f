package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every kind of odd input is refused in one line, with exit code 2 and nothing
// written. `says` is what a person needs to read in it.
func TestOddInputIsRefusedInOneLine(t *testing.T) {
	plan, scan := smallFiles(t)
	whole, err := os.ReadFile(scan)
	require.NoError(t, err)

	in := t.TempDir()
	file := func(name, content string) string { return write(t, in, name, content) }
	var (
		empty     = file("empty.stl", "")
		truncated = file("truncated.stl", string(whole[:len(whole)/2]))
		wrong     = file("port.step", "ISO-10303-21;\nHEADER;\n")
		renamed   = file("photo.stl", "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x01\x00")
		words     = file("notes.txt", "a letter to the maker\nabout the port\n")
		gap       = file("gap.xyz", "1 2 3\n4 5 6\n7 eight 9\n")
		few       = file("few.txt", "0 0 0\n1 0 0\n")
		straight  = file("straight.txt", "0 0\n1 1\n2 2\n3 3\n")
		typo      = file("typo.yaml", "part: ring\nunit: mm\nbolt_circels:\n  - id: B1\n    count: 6\n")
		badYAML   = file("bad.yaml", "part: [ring\n")
		badBand   = file("band.yaml", "part: ring\nunit: mm\nplanes: [{id: P1, flatness: wide}]\n")
		three     = file("three.xyz", threePoints)
		missing   = filepath.Join(in, "missing.stl")
		nowhere   = filepath.Join(in, "no", "out.json")
	)
	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"unknown command":          {[]string{"mesure", scan}, []string{`"mesure"`, "did you mean measure?"}},
		"unknown flag":             {[]string{"measure", scan, "--colour"}, []string{"--colour", "spotface measure --help"}},
		"no scan":                  {[]string{"measure"}, []string{"takes one scan"}},
		"two scans to measure":     {[]string{"measure", scan, scan}, []string{"takes one scan", "got 2"}},
		"no plan":                  {[]string{"check", scan}, []string{"a plan and one scan or more"}},
		"unknown unit":             {[]string{"measure", missing, "--unit", "furlong"}, []string{`"furlong"`, "mm, cm, m, in or ft"}},
		"format of later":          {[]string{"measure", missing, "--format", "xlsx"}, []string{`"xlsx"`, "text, json, csv or html"}},
		"seed that is no number":   {[]string{"measure", missing, "--seed", "-1"}, []string{`--seed cannot be "-1"`}},
		"negative jobs":            {[]string{"measure", missing, "--jobs", "-1"}, []string{"--jobs -1"}},
		"face that is no plane":    {[]string{"measure", missing, "--face", "C1"}, []string{"--face", `"C1"`, "P1"}},
		"face that is not there":   {[]string{"measure", three, "--face", "P99"}, []string{"P99"}},
		"only what is not there":   {[]string{"measure", three, "--only", "B99"}, []string{"B99"}},
		"form of nothing":          {[]string{"measure", missing, "--form", "0"}, []string{"--form", "above zero"}},
		"form that is no length":   {[]string{"check", missing, missing, "--form", "Inf"}, []string{"--form", "above zero"}},
		"empty id in only":         {[]string{"measure", scan, "--only", "B1,,P1"}, []string{"--only", "empty id"}},
		"output into no directory": {[]string{"measure", scan, "-o", nowhere}, []string{nowhere, "make it first"}},
		"output into a directory":  {[]string{"measure", scan, "-o", in}, []string{"is a directory"}},
		"output over the scan":     {[]string{"measure", scan, "-o", scan}, []string{"would overwrite"}},
		"plan over the output":     {[]string{"measure", scan, "-o", "x", "--write-plan", "x"}, []string{"-o and --write-plan both name"}},
		"missing scan":             {[]string{"measure", missing}, []string{missing, "no such file"}},
		"scan is a directory":      {[]string{"measure", in}, []string{in, "directory"}},
		"empty scan":               {[]string{"measure", empty}, []string{empty, "empty"}},
		"truncated scan":           {[]string{"measure", truncated}, []string{truncated, "truncated"}},
		"another kind of file":     {[]string{"measure", wrong}, []string{wrong}},
		"picture named scan":       {[]string{"measure", renamed}, []string{renamed}},
		"letter named scan":        {[]string{"measure", words}, []string{words}},
		"word among numbers":       {[]string{"measure", gap}, []string{gap, "line 3"}},
		"plan with a typo":         {[]string{"check", typo, scan}, []string{"typo.yaml", "bolt_circels", "line 3"}},
		"plan that is no YAML":     {[]string{"check", badYAML, scan}, []string{"bad.yaml"}},
		"plan with a word as band": {[]string{"check", badBand, scan}, []string{"band.yaml", "line 3"}},
		"scan for a plan":          {[]string{"check", scan, scan}, []string{filepath.Base(scan)}},
		"missing plan":             {[]string{"check", missing, scan}, []string{missing}},
		"plan over another plan":   {[]string{"measure", scan, "--write-plan", plan}, []string{plan, "edited", "--force"}},
		"as found, but no plan":    {[]string{"measure", scan, "--as-found"}, []string{"--as-found", "--write-plan"}},
		"unknown shape":            {[]string{"fit", "egg", few}, []string{`"egg"`, "plane, line, circle, sphere, cylinder or cone"}},
		"shape without points":     {[]string{"fit", "circle"}, []string{"a shape and a file of points"}},
		"too few points":           {[]string{"fit", "plane", few}, []string{few, "3"}},
		"circle through a line":    {[]string{"fit", "circle", straight}, []string{straight}},
		"sphere from two columns":  {[]string{"fit", "sphere", straight}, []string{straight, "x, y and z"}},
		"points that are words":    {[]string{"fit", "line", words}, []string{words, "line 1"}},
		"topic without help":       {[]string{"help", "colours"}, []string{`"colours"`}},
		"demo with an argument":    {[]string{"demo", "it"}, []string{"takes nothing"}},
	} {
		t.Run(name, func(t *testing.T) {
			out := t.TempDir()
			t.Chdir(out)
			r := spotface(t, c.args...)
			t.Log(r.stderr)
			requireOneLine(t, r, c.says...)
			assert.Empty(t, names(t, out))
		})
	}
	assert.NotContains(t, names(t, in), "no")
}

// What cannot be read must not cost what could: other outputs asked for with
// it are not written either.
func TestARefusedRunWritesNothing(t *testing.T) {
	scan := write(t, t.TempDir(), "three.xyz", threePoints)
	dir := t.TempDir()
	r := spotface(t, "measure", scan, "--only", "B99",
		"-o", filepath.Join(dir, "out.json"), "--write-plan", filepath.Join(dir, "plan.yaml"),
		"--labels", filepath.Join(dir, "labels"))
	requireOneLine(t, r, "B99")
	assert.Empty(t, names(t, dir))
}
