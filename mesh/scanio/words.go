package scanio

import (
	"bytes"
	"math"
	"strconv"
	"strings"
)

// words walks through the words of text.
type words struct {
	b   []byte
	i   int
	at  int // where the last word began
	end int // behind the line's end
}

// nextLine goes to the next line that is not blank, and reports whether there
// is one.
func (w *words) nextLine() bool {
	for w.i = w.end; w.i < len(w.b); w.i = w.end {
		w.end = min(lineEnd(w.b, w.i)+1, len(w.b))
		if w.i = skipSpace(w.b, w.i); w.i < len(w.b) && w.b[w.i] != '\n' {
			return true
		}
	}
	return false
}

// next returns the next word of the line, empty at its end, and goes behind it.
func (w *words) next() []byte {
	w.at = skipSpace(w.b, w.i)
	w.i = w.at
	for w.i < w.end && w.b[w.i] != '\n' && !isSpace(w.b[w.i]) {
		w.i++
	}
	return w.b[w.at:w.i]
}

// number reads a word that is a decimal number. The result is the nearest
// double. A number too large is infinite; nan and inf are NaN, since no
// coordinate is either.
func number(w []byte) (v float64, ok bool) {
	if v, ok = plainNumber(w); ok || len(w) > maxNumber {
		return v, ok
	}
	v, err := strconv.ParseFloat(string(w), 64)
	if err == nil && v-v == 0 && (len(w) < 3 || w[1]|0x20 != 'x' && w[2]|0x20 != 'x') {
		return v, true
	}
	text := strings.ToLower(string(w))
	switch strings.TrimLeft(text, "+-") {
	case "nan", "nan(ind)", "inf", "infinity":
		return math.NaN(), true
	}
	v, err = strconv.ParseFloat(strings.Replace(text, "d", "e", 1), 64) // Fortran's exponents
	return v, (err == nil || math.IsInf(v, 0)) && !strings.ContainsAny(text, "xpin")
}

// pow10 are powers of ten that double precision holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13,
	1e14, 1e15}

// plainNumber is number for 15 digits at most and no exponent. The digits as a whole
// number, divided by a power of ten, are exact but for one rounding (Clinger 1990, How to
// read floating point numbers accurately). Most text clouds hold no others, and with
// strconv alone reading them takes twice as long.
func plainNumber(w []byte) (v float64, ok bool) {
	neg := len(w) > 0 && w[0] == '-'
	if neg {
		w = w[1:]
	}
	var m uint64
	digits, point := 0, len(w)
	for i, c := range w {
		if d := c - '0'; d <= 9 {
			m = 10*m + uint64(d)
			digits++
		} else if c == '.' && point == len(w) {
			point = i + 1
		} else {
			return 0, false
		}
	}
	if digits == 0 || digits > 15 {
		return 0, false
	}
	v = float64(m) / pow10[len(w)-point]
	if neg {
		v = -v
	}
	return v, true
}

// index turns a point number of a file, counted from 0, into int32, and keeps
// what is out of range there. -1 stays -1.
func index(v float64) int32 {
	if v < noSuch || v > math.MaxInt32 {
		return math.MaxInt32
	}
	return int32(v)
}

// isSpace reports white space within a line.
func isSpace(c byte) bool {
	return c <= ' ' && (1<<' '|1<<'\t'|1<<'\r'|1<<'\v'|1<<'\f')&(uint64(1)<<c) != 0
}

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

// hasFold reports whether b starts with the lower-case word w, in any case.
func hasFold(b []byte, w string) bool {
	return len(b) >= len(w) && bytes.EqualFold(b[:len(w)], []byte(w))
}
