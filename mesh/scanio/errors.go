package scanio

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"spotface/mesh"
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
	where := strings.ToUpper(e.Format)
	switch {
	case where == "":
	case e.Line > 0:
		where += fmt.Sprintf(" line %d", e.Line)
	case e.Offset >= 0:
		where += fmt.Sprintf(" byte %d", e.Offset)
	}
	empty := func(s string) bool { return s == "" }
	said := slices.DeleteFunc([]string{e.File, where, e.What, e.Fix}, empty)
	return printable(strings.Join(said, ": "))
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

// Remedies where nothing better is known.
const (
	exportAgain = "export or copy the file again"
	correctLine = "correct the line or export the scan again"
)

// fail returns a FormatError about the whole file.
func (in *input) fail(what, fix string) *FormatError {
	return &FormatError{File: in.name, Format: in.format, Offset: -1, What: what, Fix: fix}
}

// failAt returns a FormatError at a byte of the file, in its line if it is text.
func (in *input) failAt(off int64, what, fix string) *FormatError {
	e := in.fail(what, fix)
	e.Offset = off
	if !in.ascii {
		return e
	}
	line := 1
	buf := make([]byte, min(off, blockSize))
	for at := int64(0); at < off; at += int64(len(buf)) {
		buf = buf[:min(off-at, int64(len(buf)))]
		if in.readAt(buf, at) != nil {
			return e // the file has shrunk
		}
		line += bytes.Count(buf, []byte{'\n'})
	}
	e.Line = line
	return e
}

// failIn is failAt for byte i of a part. An error in the last line of a text
// may be due to its being cut short.
func (in *input) failIn(p *part, i int, what, fix string) *FormatError {
	e := in.failAt(p.at+int64(i), what, fix)
	last := p.at+int64(len(p.b)) == in.size && len(bytes.TrimSpace(p.b[lineEnd(p.b, i):])) == 0
	if in.ascii && last {
		return e.cut()
	}
	return e
}

// truncated returns a FormatError for a file that ends too early.
func (in *input) truncated(what string) *FormatError {
	e := in.fail(what, "")
	e.Offset = in.size
	return e.cut()
}

// cut marks an error as that of a file which ends too early.
func (e *FormatError) cut() *FormatError {
	e.What, e.Fix, e.Truncated = "truncated: "+e.What, exportAgain, true
	return e
}

// quoted returns the start of a token for an error message.
func quoted[T string | []byte](b T) string {
	if len(b) > quotedBytes {
		return fmt.Sprintf("%q...", b[:quotedBytes])
	}
	return fmt.Sprintf("%q", b)
}

// warn adds a warning, a full sentence.
func (in *input) warn(format string, args ...any) {
	in.warnings = append(in.warnings, printable(fmt.Sprintf(format, args...)))
}

// warnLeft warns that some things were left out: "2 faces with ... were skipped."
func (in *input) warnLeft(n int64, noun, with, done string) {
	if n > 0 {
		in.warn("%s", mesh.LeftOut(int(n), noun, with, done))
	}
}

// readAt fills buf from byte off on; a short read is an error. Line ends of
// text are \n then.
func (in *input) readAt(buf []byte, off int64) error {
	n, err := in.r.ReadAt(buf, off)
	switch {
	case n < len(buf) && (err == nil || err == io.EOF):
		e := in.fail("the file ends here although it was longer when opened",
			"read it again when nothing writes to it")
		e.Offset, e.Truncated = off+int64(n), true
		return e
	case n < len(buf):
		return fmt.Errorf("read %s at byte %d: %w", in.name, off, err)
	case in.cr:
		returnsToNewlines(buf)
	}
	return nil
}

// returnsToNewlines makes line ends \n where they are \r alone.
func returnsToNewlines(b []byte) {
	for i, c := range b {
		if c == '\r' {
			b[i] = '\n'
		}
	}
}
