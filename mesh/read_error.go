package mesh

import (
	"fmt"
	"io"
	"strings"
)

// FormatError says what is wrong with a scan file, where, and how to mend it.
type FormatError struct {
	File   string // as given to the reader
	Format string // "stl", "ply", "obj", "xyz", or empty where none was recognised
	Line   int    // counted from 1; 0 where no line applies
	Offset int64  // byte counted from 0; negative where none applies
	What   string // the trouble
	Fix    string // how to mend it
	// Truncated is set where the file ends before what it promises.
	Truncated bool
}

// Error returns one line: file, format, place, trouble, remedy.
func (e *FormatError) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(e.File + ": ")
	}
	if e.Format != "" {
		b.WriteString(strings.ToUpper(e.Format))
		switch {
		case e.Line > 0:
			fmt.Fprintf(&b, " line %d", e.Line)
		case e.Offset >= 0:
			fmt.Fprintf(&b, " byte %d", e.Offset)
		}
		b.WriteString(": ")
	}
	b.WriteString(e.What)
	if e.Fix != "" {
		b.WriteString(": " + e.Fix)
	}
	return b.String()
}

// fail returns a FormatError about the whole file.
func (in *input) fail(what, fix string) *FormatError {
	return &FormatError{File: in.name, Format: in.format, Offset: -1, What: what, Fix: fix}
}

// failAt returns a FormatError at a byte of a binary file.
func (in *input) failAt(off int64, what, fix string) *FormatError {
	e := in.fail(what, fix)
	e.Offset = off
	return e
}

// failLine returns a FormatError at the line that holds byte off of a text
// file. Lines are counted only now, by reading the file up to off once more,
// so that good files never pay for it.
func (in *input) failLine(off int64, what, fix string) *FormatError {
	e := in.failAt(off, what, fix)
	e.Line = 1
	buf := make([]byte, min(off, 1<<16))
	for at := int64(0); at < off; {
		n, err := in.r.ReadAt(buf[:min(int64(len(buf)), off-at)], at)
		for _, c := range buf[:n] {
			if c == in.eol {
				e.Line++
			}
		}
		at += int64(n)
		if err != nil || n == 0 {
			break
		}
	}
	return e
}

// truncated returns a FormatError for a file that ends too early.
func (in *input) truncated(what string) *FormatError {
	e := in.failAt(in.size, "truncated: "+what, "export or copy the file again")
	e.Truncated = true
	return e
}

// quoted returns the start of a token for an error message.
func quoted(b []byte) string {
	const most = 24
	if len(b) > most {
		return fmt.Sprintf("%q...", b[:most])
	}
	return fmt.Sprintf("%q", b)
}

// readAt fills buf from byte off on; a short read is an error.
func (in *input) readAt(buf []byte, off int64) error {
	n, err := in.r.ReadAt(buf, off)
	if n == len(buf) {
		return nil
	}
	if err == nil || err == io.EOF {
		e := in.failAt(off+int64(n), "the file ends here although it was longer when opened",
			"read it again when nothing writes to it")
		e.Truncated = true
		return e
	}
	return fmt.Errorf("read %s at byte %d: %w", in.name, off, err)
}
