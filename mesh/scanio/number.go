package scanio

import (
	"bytes"
	"math"
	"strconv"
)

// pow10 are powers of ten that double precision holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads the decimal number at b[i:], up to white space, a separator or a
// quotation mark, and returns the place behind it. The result is the nearest
// double. A number too large is infinite; nan and inf are NaN, since no
// coordinate is either.
//
// The digits as an integer m < 2^53, times or divided by a power of ten up to
// 10^22, are exact but for one rounding (Clinger 1990, How to read floating
// point numbers accurately). Most files hold no others, and strconv, which
// reads those, takes three times as long.
func number(b []byte, i int) (v float64, next int, ok bool) {
	start := i
	neg := i < len(b) && b[i] == '-'
	if neg || i < len(b) && b[i] == '+' {
		i++
	}
	var m uint64
	digits := i
	for i < len(b) && b[i]-'0' <= 9 {
		m = m*10 + uint64(b[i]-'0')
		i++
	}
	n, exp := i-digits, 0
	if i < len(b) && b[i] == '.' {
		i++
		fraction := i
		for i < len(b) && b[i]-'0' <= 9 {
			m = m*10 + uint64(b[i]-'0')
			i++
		}
		exp = fraction - i
		n -= exp
	}
	if k := i + 2; k < len(b) && b[i]|0x20 == 'e' && (b[i+1] == '-' || b[i+1] == '+') {
		e := 0
		for i = k; i < len(b) && i < k+3 && b[i]-'0' <= 9; i++ {
			e = 10*e + int(b[i]-'0')
		}
		switch {
		case i == k:
			n = 0 // no exponent
		case b[k-1] == '-':
			exp -= e
		default:
			exp += e
		}
	}
	// 19 digits cannot overflow m.
	if n == 0 || n > 19 || m >= 1<<53 || exp < -22 || exp > 22 || i < len(b) && !endsNumber(b[i]) {
		return slowNumber(b, start)
	}
	v = float64(m)
	if exp < 0 {
		v /= pow10[-exp]
	} else {
		v *= pow10[exp]
	}
	if neg {
		v = -v
	}
	return v, i, true
}

// endsNumber reports what may follow a number.
func endsNumber(c byte) bool { return c <= ' ' || c == ',' || c == ';' || c == '"' || c == '\\' }

// slowNumber is number for any number.
func slowNumber(b []byte, i int) (v float64, next int, ok bool) {
	var buf [64]byte
	t := buf[:0]
	start, digits, other := i, false, false
	for ; i < len(b) && !endsNumber(b[i]) && len(t) < 1<<10; i++ {
		c := b[i]
		if 'A' <= c && c <= 'Z' {
			c |= 0x20
		}
		if c == 'd' {
			c = 'e' // as Fortran writes exponents
		}
		digits = digits || c-'0' <= 9
		other = other || c-'0' > 9 && c != '+' && c != '-' && c != '.' && c != 'e'
		t = append(t, c)
	}
	if other {
		switch string(bytes.TrimLeft(t, "+-")) {
		case "nan", "nan(ine)", "inf", "infinity": // nan(ind)
			return math.NaN(), i, true
		}
		return 0, start, false
	}
	v, err := strconv.ParseFloat(string(t), 64)
	if !digits || err != nil && !math.IsInf(v, 0) { // else too large
		return 0, start, false
	}
	return v, i, true
}

// whole reads a whole number at b[i:].
func whole(b []byte, i int) (v int64, next int, ok bool) {
	start := i
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		i++
	}
	first := i
	for i < len(b) && b[i]-'0' <= 9 {
		v = v*10 + int64(b[i]-'0')
		i++
	}
	if i == first || i-first > 18 {
		return 0, start, false
	}
	if b[start] == '-' {
		v = -v
	}
	return v, i, true
}

// index turns a point number of a file, counted from 0, into int32, and keeps
// what is out of range there. -1 stays -1.
func index(v float64) int32 { return int32(max(-2, min(v, math.MaxInt32))) }

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

// wordAt returns the word at b[i:], up to white space or the line's end.
func wordAt(b []byte, i int) []byte {
	j := i
	for j < len(b) && b[j] != '\n' && !isSpace(b[j]) {
		j++
	}
	return b[i:j]
}

// hasFold reports whether b starts with the lower-case word w, in any case.
func hasFold(b []byte, w string) bool {
	return len(b) >= len(w) && bytes.EqualFold(b[:len(w)], []byte(w))
}
