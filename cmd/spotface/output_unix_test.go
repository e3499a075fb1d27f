//go:build unix

package main

import (
	"context"
	"os/signal"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A pipe that nobody reads is left when the command is interrupted.
func TestAPipeWithoutAReader(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var o outputs
	o.add("-o", pipe, []byte("x"))
	require.ErrorIs(t, o.write(ctx, nil), context.Canceled)
}

// A disk that is full, here by a limit on the size of files, leaves nothing.
func TestAFullDiskLeavesNothing(t *testing.T) {
	var old syscall.Rlimit
	require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old))
	signal.Ignore(syscall.SIGXFSZ)
	defer signal.Reset(syscall.SIGXFSZ)
	require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 1 << 20, Max: old.Max}))
	defer func() { assert.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old)) }()

	dir := t.TempDir()
	var o outputs
	o.add("--keep", filepath.Join(dir, "small"), make([]byte, 10))
	o.add("--keep", filepath.Join(dir, "large"), make([]byte, 2<<20))
	require.ErrorIs(t, o.write(t.Context(), nil), syscall.EFBIG)
	assert.Empty(t, names(t, dir))
}
