package main

import (
	"fmt"
	"io"
	"os"
	"sync"
)

// progress keeps one line on a terminal up to date. Its zero value, and one
// made for anything but a terminal, prints nothing.
type progress struct {
	w       io.Writer
	mu      sync.Mutex
	percent int
	stage   string
}

// newProgress returns a progress line on w, silent unless w is a terminal and not quiet.
func newProgress(w io.Writer, quiet bool) *progress {
	if !quiet && isTerminal(w) && os.Getenv("TERM") != "dumb" {
		return &progress{w: w}
	}
	return &progress{}
}

// isTerminal reports whether w is a terminal (or another character device).
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// at returns a function for a library's Progress option that shows the named
// stage.
func (p *progress) at(stage string) func(done, total int) {
	if p.w == nil {
		return nil
	}
	return func(done, total int) {
		p.mu.Lock()
		defer p.mu.Unlock()
		percent := int(100 * float64(done) / float64(max(total, 1)))
		if stage == p.stage && percent == p.percent {
			return
		}
		p.stage, p.percent = stage, percent
		fmt.Fprintf(p.w, "\r\x1b[K%s %d %%", stage, percent)
	}
}

// clear takes the line away again, before anything else is printed.
func (p *progress) clear() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stage != "" {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.stage = ""
	}
}

// stages returns a function for a library's Progress option that names its
// stages, shown after the file's name.
func (p *progress) stages(file string) func(stage string, done, total int) {
	if p.w == nil {
		return nil
	}
	return func(stage string, done, total int) { p.at(file+": "+stage)(done, total) }
}
