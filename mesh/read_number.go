package mesh

import (
	"math"
	"strconv"
)

// pow10 are the powers of ten that double precision holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseNumber reads a decimal number at b[i:] and returns its value and the
// place after it; ok is false where none stands there. The result is the
// nearest double. point is the decimal sign. A number too large is infinite;
// nan, inf and their spellings with # are NaN, since no coordinate is either.
//
// Method: the digits as an integer m < 2^53, times or divided by a power of
// ten up to 10^22, are exact but for one rounding (Clinger 1990, How to read
// floating point numbers accurately); other numbers go to strconv.
func parseNumber(b []byte, i int, point byte) (v float64, next int, ok bool) {
	start := i
	neg := false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	var m uint64
	digits := i
	for i < len(b) {
		c := b[i] - '0'
		if c > 9 {
			break
		}
		m = m*10 + uint64(c)
		i++
	}
	n := i - digits
	exp := 0
	if i < len(b) && b[i] == point {
		i++
		frac := i
		for i < len(b) {
			c := b[i] - '0'
			if c > 9 {
				break
			}
			m = m*10 + uint64(c)
			i++
		}
		exp = frac - i
		n -= exp
	}
	if n == 0 {
		return notANumber(b, start)
	}
	if i < len(b) && (b[i]|0x20 == 'e' || b[i]|0x20 == 'd') {
		j, e, negE := i+1, 0, false
		if j < len(b) && (b[j] == '-' || b[j] == '+') {
			negE = b[j] == '-'
			j++
		}
		first := j
		for j < len(b) && b[j]-'0' <= 9 {
			e = min(e*10+int(b[j]-'0'), 1<<20)
			j++
		}
		if j == first {
			return 0, start, false
		}
		if negE {
			e = -e
		}
		exp += e
		i = j
	}
	// 19 digits cannot overflow m.
	if n <= 19 && m < 1<<53 && exp >= -22 && exp <= 22 {
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
	return slowNumber(b[start:i], point), i, true
}

// slowNumber parses a number whose form is known to be right.
func slowNumber(b []byte, point byte) float64 {
	var buf [64]byte
	s := append(buf[:0], b...)
	for k, c := range s {
		switch c {
		case point:
			s[k] = '.'
		case 'd', 'D':
			s[k] = 'e'
		}
	}
	v, _ := strconv.ParseFloat(string(s), 64)
	return v
}

// notANumber reads the spellings of NaN and infinity.
func notANumber(b []byte, start int) (float64, int, bool) {
	i := start
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		i++
	}
	for _, w := range [...]string{"infinity", "nan(ind)", "nan", "inf"} {
		if hasFold(b[i:], w) {
			return math.NaN(), i + len(w), true
		}
	}
	return 0, start, false
}

// hasFold reports whether b starts with the lower-case word w, in any case.
func hasFold(b []byte, w string) bool {
	if len(b) < len(w) {
		return false
	}
	for k := range len(w) {
		c := b[k]
		if 'A' <= c && c <= 'Z' {
			c |= 0x20
		}
		if c != w[k] {
			return false
		}
	}
	return true
}

// parseInt reads a whole number at b[i:].
func parseInt(b []byte, i int) (v int64, next int, ok bool) {
	start := i
	neg := false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	first := i
	for i < len(b) {
		c := b[i] - '0'
		if c > 9 {
			break
		}
		v = v*10 + int64(c)
		i++
	}
	if i == first || i-first > 18 {
		return 0, start, false
	}
	if neg {
		v = -v
	}
	return v, i, true
}
