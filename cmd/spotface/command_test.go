package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh/scanio"
	"spotface/mesh/scansim"
)

// result of one run of the command, in this process.
type result struct {
	code           int
	stdout, stderr string
}

func spotface(t *testing.T, args ...string) result {
	t.Helper()
	return spotfaceContext(t.Context(), args...)
}

func spotfaceContext(ctx context.Context, args ...string) result {
	return spotfaceInput(ctx, "", args...)
}

// spotfaceInput is a run with something on standard input.
func spotfaceInput(ctx context.Context, stdin string, args ...string) result {
	var out, err bytes.Buffer
	code := run(ctx, args, strings.NewReader(stdin), &out, &err)
	return result{code, out.String(), err.String()}
}

// requireOneLine requires that the run was refused in one line that holds all
// of the words, with nothing on standard output.
func requireOneLine(t *testing.T, r result, words ...string) {
	t.Helper()
	require.Equal(t, exitUnusable, r.code, "stderr: %s", r.stderr)
	require.Empty(t, r.stdout)
	require.Equal(t, 1, strings.Count(r.stderr, "\n"), "one line: %q", r.stderr)
	require.True(t, strings.HasPrefix(r.stderr, "spotface: "), r.stderr)
	for _, w := range words {
		assert.Contains(t, r.stderr, w)
	}
}

// write puts a file into dir and returns its path.
func write(t *testing.T, dir, name, content string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(path, []byte(content), 0o644))
	return path
}

// names lists what is in dir.
func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := []string{}
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

// smallOnce writes a small simulated scan, and a plan that it conforms to, for
// the tests of what the command does around the numbers. Six holes of 6.6 mm at
// 60 degrees on 40 mm, exactly. It is coarse, so the plan's bands are wide.
var smallOnce = sync.OnceValue(func() error {
	part := scansim.Flange(scansim.FlangeSpec{Diameter: 56, Thickness: 5, Bore: 20, PitchDiameter: 40})
	scan, _, err := scansim.Fused(context.Background(), part, scansim.FusedOptions{Seed: 3, Voxel: 1, Noise: 0.01})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := scanio.WriteSTL(&b, scan); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(scratch, "small.stl"), b.Bytes(), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(scratch, "small.yaml"), []byte(smallPlan), 0o644)
})

// threePoints is a scan in which there is nothing to find.
const threePoints = "0 0 0\n70 0 0\n0 80 0\n"

const smallPlan = `part: small flange
unit: mm
bolt_circles:
  - id: B1
    count: 6
    spacing:        {nominal: 60, band: [-1, 1]}
    pitch_diameter: {nominal: 40, band: [-0.5, 0.5]}
    hole_diameter:  {nominal: 6.6, band: [-1, 1]}
    clocking:       {band: [-1, 1]}
`

// smallFiles returns a plan and a scan that conforms to it.
func smallFiles(t *testing.T) (plan, scan string) {
	t.Helper()
	require.NoError(t, smallOnce())
	return filepath.Join(scratch, "small.yaml"), filepath.Join(scratch, "small.stl")
}

// smallText is what the measurement prints.
func smallText(t *testing.T) string {
	t.Helper()
	smallFiles(t)
	r := textOnce()
	require.Equal(t, exitConforming, r.code, r.stderr)
	return r.stdout
}

// smallSaved is the saved report of the small scan, which is judged as the scan would be.
func smallSaved(t *testing.T) string {
	smallJSON(t)
	return filepath.Join(scratch, "small.json")
}

// smallJSON is what that report holds.
func smallJSON(t *testing.T) string {
	t.Helper()
	data, err := measuredOnce()
	require.NoError(t, err)
	return data
}
