package scanio

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"
)

// FormatError says what is wrong with a scan file, where, and how to mend it.
type FormatError struct {
	File   string // as given to the reader
	Format string // "stl", "ply", "obj", "xyz", "3mf", or empty where none was recognised
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
	return printable(b.String())
}

// printable replaces what no line of text should hold: names may come from a
// damaged file.
func printable(s string) string {
	return strings.Map(func(c rune) rune {
		if unicode.IsPrint(c) {
			return c
		}
		return '?'
	}, s)
}

// exportAgain is the remedy where nothing better is known.
const exportAgain = "export or copy the file again"

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

// lineWithin stands for the end of a line that goes on in the next. It counts
// as white space.
const lineWithin = "\v"

// failIn returns a FormatError at byte i of a block: its line, if it is text.
func (in *input) failIn(b *block, i int, what, fix string) *FormatError {
	e := in.failAt(b.at+int64(i), what, fix)
	if in.ascii {
		e.Line = b.line + bytes.Count(b.b[:i], []byte{'\n'}) + bytes.Count(b.b[:i], []byte(lineWithin))
	}
	return e
}

// failHead is failIn for byte i of the file's start.
func (in *input) failHead(i int, what, fix string) *FormatError {
	e := in.failAt(int64(i), what, fix)
	e.Line = 1 + strings.Count(string(in.head[:i]), string(in.eol))
	return e
}

// truncated returns a FormatError for a file that ends too early.
func (in *input) truncated(what string) *FormatError {
	return in.failAt(in.size, what, "").cut()
}

// cut marks an error as that of a file which ends too early.
func (e *FormatError) cut() *FormatError {
	e.What, e.Fix, e.Truncated = "truncated: "+e.What, exportAgain, true
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

// quantity returns a count with its noun: "1 byte", "12,345 bytes".
func quantity[T int | int64](n T, noun string) string {
	s := strconv.FormatInt(int64(n), 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if n != 1 {
		if strings.HasSuffix(noun, "ex") {
			noun = strings.TrimSuffix(noun, "ex") + "ice"
		}
		noun += "s"
	}
	return s + " " + noun
}

// warn adds a warning, a full sentence.
func (in *input) warn(format string, args ...any) {
	in.warnings = append(in.warnings, printable(fmt.Sprintf(format, args...)))
}

// warnLeft warns that some things were left out: "2 faces with ... were skipped."
func (in *input) warnLeft(n int64, noun, with, done string) {
	if n > 0 {
		were := "were"
		if n == 1 {
			were = "was"
		}
		in.warn("%s%s %s %s.", quantity(n, noun), with, were, done)
	}
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
