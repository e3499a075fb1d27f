// Command spotface measures bolt circles in 3-D scans: it reads a scan, finds
// faces, bores and holes, says how the holes are clocked and judges them
// against a plan. The numbers come from the packages mesh, fit, bolt and
// report; this command only reads flags, prints and sets the exit code.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"unicode"

	"spotface/report"
)

// Exit codes. An interrupt ends with the shell's own code for it.
const (
	exitConforming    = report.ExitConforming
	exitNonconforming = report.ExitNonconforming
	exitUnusable      = report.ExitUsage
	exitInterrupted   = 130
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// A second Ctrl-C ends the program at once.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run is the whole command with its surroundings handed in: it returns the
// exit code. Results go to stdout, all else to stderr.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	a := &app{stdin: stdin, stdinName: "standard input", stdout: stdout, stderr: stderr}
	root := newRoot(a)
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	switch {
	case err == nil:
		return a.code
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "spotface: interrupted: nothing was written")
		return exitInterrupted
	}
	a.complain(err)
	return exitUnusable
}

// app is what every command shares: where to read and print, and the exit code to set.
type app struct {
	stdin          io.Reader
	stdinName      string // as messages and reports have it
	stdout, stderr io.Writer
	code           int
	quiet          bool
	noting         sync.Mutex // scans that are checked side by side note one after another
}

// note prints one line for the person at the terminal, unless that is to be quiet.
func (a *app) note(format string, args ...any) {
	if !a.quiet {
		a.complain(fmt.Errorf(format, args...))
	}
}

// complain prints an error, which is never kept quiet.
func (a *app) complain(err error) {
	what := err.Error()
	if errors.Is(err, fs.ErrNotExist) {
		what += ": check the name"
	}
	a.noting.Lock()
	defer a.noting.Unlock()
	fmt.Fprintln(a.stderr, "spotface: "+oneLine(what))
}

// oneLine folds the lines of s into one and drops control characters, which
// may come from a file name or from a file's content.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && !unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}
