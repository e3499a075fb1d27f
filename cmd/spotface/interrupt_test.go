package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// scratch is a directory for what several tests share.
var scratch string

// TestMain lets a test start the command as a process of its own: this very
// program, with a word for it in its environment.
func TestMain(m *testing.M) {
	if os.Getenv("SPOTFACE_TEST_COMMAND") != "" {
		main()
	}
	var err error
	if scratch, err = os.MkdirTemp("", "spotface"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(scratch)
	os.Exit(code)
}

// Stopped at any time, a run either has written all of its files or none.
func TestAnInterruptLeavesAllOrNothing(t *testing.T) {
	_, scan := smallFiles(t)
	whole := []string{"labels", "plan.yaml", "report.json"}
	args := func(dir string) []string {
		return []string{"measure", scan, "--format", "json", "-o", filepath.Join(dir, whole[2]),
			"--write-plan", filepath.Join(dir, whole[1]), "--labels", filepath.Join(dir, whole[0])}
	}
	smallJSON(t)
	interrupted := 0
	for _, stop := range []float64{0, 0.5, 2} { // parts of the time that a run takes
		dir := t.TempDir()
		ctx, cancel := context.WithTimeoutCause(t.Context(), time.Duration(stop*float64(smallTook)), context.Canceled)
		ctx = canceledBy{ctx}
		r := spotfaceContext(ctx, args(dir)...)
		cancel()
		if r.code == exitConforming {
			assert.Equal(t, whole, names(t, dir))
			continue
		}
		interrupted++
		assert.Equal(t, exitInterrupted, r.code, r.stderr)
		// Warnings of the scan may have come before it, nothing else.
		lines := strings.Split(strings.TrimSuffix(r.stderr, "\n"), "\n")
		for _, l := range lines[:len(lines)-1] {
			assert.Regexp(t, "^spotface: warning: ", l)
		}
		assert.Equal(t, "spotface: interrupted: nothing was written", lines[len(lines)-1])
		assert.Empty(t, names(t, dir))
	}
	assert.Positive(t, interrupted, "the first stop comes before the start")
}

// canceledBy is a context whose deadline counts as an interrupt.
type canceledBy struct{ context.Context }

func (c canceledBy) Err() error {
	if c.Context.Err() != nil {
		return context.Canceled
	}
	return nil
}

// Ctrl-C, as the terminal sends it.
func TestCtrlC(t *testing.T) {
	_, scan := smallFiles(t)
	dir := t.TempDir()
	cmd := exec.CommandContext(t.Context(), os.Args[0], "measure", scan, "-o", filepath.Join(dir, "out"))
	cmd.Env = append(os.Environ(), "SPOTFACE_TEST_COMMAND=1")
	require.NoError(t, cmd.Start())
	time.Sleep(100 * time.Millisecond)
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	err := cmd.Wait()
	if err == nil {
		assert.Equal(t, []string{"out"}, names(t, dir), "it was done already")
		return
	}
	assert.Empty(t, names(t, dir), "%v", err)
}
