package mesh

import (
	"bytes"
)

// textChunk is how much text a goroutine reads at a time.
const textChunk = 1 << 20

// lines is a part of a text file in chunks that begin and end between lines.
type lines struct {
	in     *input
	lo, hi int64 // bytes of the file
	size   int64 // of a chunk
	// starts tells whether a chunk may begin with the line at b[i:], where
	// lines belong together; nil means any may. b holds at least the line
	// before and 16 bytes of the line, if the file has them.
	starts func(b []byte, i int) bool
	silent bool // not counted as progress
}

// lines returns the text from lo on.
func (in *input) lines(lo int64) *lines {
	return &lines{in: in, lo: lo, hi: in.size, size: in.chunk}
}

// count returns the number of chunks.
func (l *lines) count() int { return int((l.hi - l.lo + l.size - 1) / l.size) }

// peekLine is what starts may look at, of the line it is asked about.
const peekLine = 16

// load reads chunk k into buf, grown as needed, and returns the lines of the
// chunk: those that begin in its range of bytes, to their end, and the byte
// of the file at which they begin. Lines end in \n, whatever they do in the
// file.
func (l *lines) load(k int, buf *[]byte) (text []byte, at int64, err error) {
	lo := l.lo + int64(k)*l.size
	hi := min(lo+l.size, l.hi)
	from := lo
	// Back to the line before, so that its end is seen.
	if k > 0 {
		from = max(l.lo, lo-1)
		if l.starts != nil {
			from = max(l.lo, lo-4)
		}
	}
	if need := int(hi-from) + 512; cap(*buf) < need {
		*buf = make([]byte, 0, need)
	}
	b := (*buf)[:hi-from]
	if err := l.in.readAt(b, from); err != nil {
		return nil, 0, err
	}
	more := func() error {
		n := min(int64(max(512, len(b))), l.hi-from-int64(len(b)))
		if len(b) < int(l.size)+512 {
			n = min(n, 512) // most lines are short
		}
		old := len(b)
		if cap(b) < old+int(n) {
			grown := make([]byte, old, old+int(n))
			copy(grown, b)
			b = grown
		}
		b = b[:old+int(n)]
		return l.in.readAt(b[old:], from+int64(old))
	}
	// next returns the first place after i where a chunk may begin, or the
	// length of b at the end of the file. It looks no farther than limit,
	// if that is not 0, and then returns limit or more.
	next := func(i, limit int) (int, error) {
		for limit == 0 || i < limit {
			e := bytes.IndexByte(b[i:], l.in.eol)
			if e < 0 {
				i = len(b)
				if from+int64(len(b)) == l.hi || limit > 0 {
					return i, nil
				}
				if err := more(); err != nil {
					return 0, err
				}
				continue
			}
			i += e + 1
			if l.starts == nil {
				return i, nil
			}
			for len(b)-i < peekLine && from+int64(len(b)) < l.hi {
				if err := more(); err != nil {
					return 0, err
				}
			}
			if l.starts(b, i) {
				return i, nil
			}
		}
		return i, nil
	}
	begin := 0
	if k > 0 {
		if begin, err = next(int(lo-from)-1, int(hi-from)); err != nil {
			return nil, 0, err
		}
	}
	if !l.silent {
		l.in.meter.add(int(hi - lo))
	}
	end := len(b)
	if from+int64(begin) >= hi {
		return nil, from + int64(begin), nil // the chunk before took it all
	}
	if hi < l.hi {
		if end, err = next(int(hi-from)-1, 0); err != nil {
			return nil, 0, err
		}
	}
	if cap(b) > cap(*buf) && cap(b) <= 4*textChunk {
		*buf = b
	}
	if l.in.eol != '\n' {
		for i, c := range b {
			if c == l.in.eol {
				b[i] = '\n'
			}
		}
	}
	return b[begin:end], from + int64(begin), nil
}

// sampleLines calls f for a few lines spread evenly over the text between lo
// and hi.
func (in *input) sampleLines(lo, hi int64, f func(line []byte)) error {
	const pieces, piece = 64, 512
	if hi-lo <= pieces*piece {
		buf := make([]byte, hi-lo)
		if err := in.readAt(buf, lo); err != nil {
			return err
		}
		for len(buf) > 0 {
			line, rest, _ := bytes.Cut(buf, []byte{in.eol})
			f(line)
			buf = rest
		}
		return nil
	}
	var buf [piece]byte
	for k := range int64(pieces) {
		if err := in.readAt(buf[:], lo+(hi-lo-piece)*k/(pieces-1)); err != nil {
			return err
		}
		b := buf[:]
		if k > 0 {
			_, b, _ = bytes.Cut(b, []byte{in.eol})
		}
		for n := 0; n < 4; n++ {
			line, rest, whole := bytes.Cut(b, []byte{in.eol})
			if !whole {
				break
			}
			f(line)
			b = rest
		}
	}
	return nil
}

// isSpace reports white space within a line.
func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\v' || c == '\f' }

// skipSpace returns the first place from i on that is not white space.
func skipSpace(b []byte, i int) int {
	for i < len(b) && isSpace(b[i]) {
		i++
	}
	return i
}

// lineEnd returns the end of the line that holds b[i].
func lineEnd(b []byte, i int) int {
	if e := bytes.IndexByte(b[i:], '\n'); e >= 0 {
		return i + e
	}
	return len(b)
}

// word returns the word at b[i:], up to white space or the line's end.
func wordAt(b []byte, i int) []byte {
	j := i
	for j < len(b) && !isSpace(b[j]) && b[j] != '\n' {
		j++
	}
	return b[i:j]
}
