package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOutputsReplaceAFileAndKeepItsPermissions(t *testing.T) {
	dir := t.TempDir()
	old := write(t, dir, "report.json", "old")
	require.NoError(t, os.Chmod(old, 0o640))
	link := filepath.Join(dir, "link.json")
	require.NoError(t, os.Symlink("report.json", link))

	var o outputs
	o.add("-o", link, []byte("new"))
	require.NoError(t, o.write(t.Context(), nil))

	got, err := os.ReadFile(old)
	require.NoError(t, err)
	assert.Equal(t, "new", string(got), "written through the link")
	info, err := os.Stat(old)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), info.Mode().Perm())
	assert.Equal(t, []string{"link.json", "report.json"}, names(t, dir))
}

func TestOutputsAreAllWrittenOrNone(t *testing.T) {
	dir := t.TempDir()
	var o outputs
	o.add("-o", filepath.Join(dir, "a"), []byte("a"))
	o.add("--labels", filepath.Join(dir, "gone", "b"), []byte("b"))
	var stdout bytes.Buffer
	o.add("-o", "-", []byte("c"))
	require.ErrorContains(t, o.write(t.Context(), &stdout), "--labels")
	assert.Empty(t, names(t, dir))
	assert.Empty(t, stdout.String())
}

func TestAnInterruptBeforeTheEndLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	kept := write(t, dir, "kept", "as it was")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var o outputs
	o.add("-o", kept, []byte("new"))
	o.add("--labels", filepath.Join(dir, "b"), []byte("b"))
	require.ErrorIs(t, o.write(ctx, nil), context.Canceled)
	assert.Equal(t, []string{"kept"}, names(t, dir))
	got, err := os.ReadFile(kept)
	require.NoError(t, err)
	assert.Equal(t, "as it was", string(got))
}

func TestADeviceIsNotReplaced(t *testing.T) {
	var o outputs
	o.add("-o", os.DevNull, []byte("x"))
	require.NoError(t, o.write(t.Context(), nil))
	info, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.False(t, info.Mode().IsRegular())
}

func TestTargetsThatCannotBe(t *testing.T) {
	dir := t.TempDir()
	in := write(t, dir, "in.stl", "x")
	out := filepath.Join(dir, "out")
	for name, c := range map[string]struct {
		targets [][2]string
		says    string
	}{
		"a directory":                {[][2]string{{"-o", dir}}, "is a directory: name a file in it"},
		"in no directory":            {[][2]string{{"-o", filepath.Join(dir, "no", "x")}}, "make it first"},
		"below a file":               {[][2]string{{"-o", filepath.Join(in, "x")}}, "not a directory"},
		"the input":                  {[][2]string{{"--labels", in}}, "would overwrite the input"},
		"the input, named otherwise": {[][2]string{{"-o", filepath.Join(dir, ".", "..", filepath.Base(dir), "in.stl")}}, "would overwrite the input"},
		"one file twice":             {[][2]string{{"-o", out}, {"--labels", out}}, "-o and --labels both name"},
	} {
		t.Run(name, func(t *testing.T) {
			require.ErrorContains(t, checkTargets([]string{in}, c.targets...), c.says)
		})
	}
	require.NoError(t, checkTargets([]string{in}, [2]string{"-o", out}, [2]string{"--labels", "-"}, [2]string{"--write-plan", ""}))
	assert.Equal(t, []string{"in.stl"}, names(t, dir))
}
