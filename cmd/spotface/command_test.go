package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
	var out, err bytes.Buffer
	code := run(ctx, args, &out, &err)
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
