package mesh

import (
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"
)

// input is a file on its way in.
type input struct {
	r     io.ReaderAt
	size  int64
	name  string
	jobs  int
	chunk int64 // bytes of text a goroutine reads at a time
	exact bool  // points as float64, two columns allowed
	meter *meter

	head   []byte // the first 64 KiB at most
	format string
	ascii  bool
	body   int64 // where the text starts, after a byte order mark
	eol    byte  // what ends a line: \n, or \r in files that have no \n

	ply    *plyHeader
	walked []byte // buffer of plyWalk
	xyz    *xyzLayout

	scale    float64 // mm per unit
	origin   r3.Vector
	src      Source
	warnings []string
}

const (
	headSize = 1 << 16
	samples  = 255 // points looked at for the origin and the unit
)

// start reads the head and settles the format and its header.
func (in *input) start() error {
	for n := int64(headSize); ; n *= 16 {
		in.head = make([]byte, min(in.size, n))
		if err := in.readAt(in.head, 0); err != nil {
			return err
		}
		in.settleLines()
		// Look further where the head is all comments.
		if n >= in.size || n > 1<<24 || !isText(in.head) || in.firstLine() != nil {
			break
		}
	}
	if err := in.sniff(); err != nil {
		return err
	}
	in.src = Source{File: filepath.Base(in.name), Format: in.format}
	if in.name == "" {
		in.src.File = ""
	}
	switch in.format {
	case formatPLY:
		return in.readPLYHeader()
	case formatXYZ:
		return in.layOutXYZ()
	}
	return nil
}

// warn adds a warning, a full sentence.
func (in *input) warn(format string, args ...any) {
	in.warnings = append(in.warnings, fmt.Sprintf(format, args...))
}

// quantity returns a count with its noun: "1 byte", "12,345 bytes".
func quantity(n int64, noun string) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if n != 1 {
		if strings.HasSuffix(noun, "x") {
			noun = strings.TrimSuffix(noun, "ex") + "ice"
		}
		noun += "s"
	}
	return s + " " + noun
}
