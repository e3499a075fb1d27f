package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"spotface/report/wording"
)

// decimals are those of a length, mm, or of an angle with the expanded uncertainty u.
func decimals(u float64) int { return millimetre.decimals(u) }

// fixed prints v with d decimals, never as a negative zero.
func fixed(v float64, d int) string {
	s := strconv.FormatFloat(v, 'f', d, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// signed is fixed with a sign in front.
func signed(v float64, d int) string {
	if s := fixed(v, d); strings.HasPrefix(s, "-") {
		return s
	} else {
		return "+" + s
	}
}

// plusMinus prints " +-u" with d decimals, nothing where u is not known.
func plusMinus(u float64, d int) string {
	if !(u > 0) {
		return ""
	}
	return " +-" + limitText(u, d)
}

// limitText prints a positive upper limit with d decimals, one of the last for what rounds
// to nothing.
func limitText(v float64, d int) string { return strings.TrimSuffix(atLeast(v, d), orLess) }

const orLess = " or less"

// atLeast prints a positive v with d decimals, and "0.001 or less" for what rounds to
// nothing.
func atLeast(v float64, d int) string {
	if s := fixed(v, d); strings.Trim(s, "0.") != "" {
		return s
	}
	return fixed(math.Pow(10, float64(-d)), d) + orLess
}

// things is "1 hole", "6 holes".
func things(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%s %ss", wording.Count(n), one)
}

// word prints a small number as a word.
func word(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return wording.Count(n)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// plural picks the words for one or for n things; many may have a place for n.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	if strings.Contains(many, "%d") {
		return fmt.Sprintf(many, n)
	}
	return many
}

// turnWord says which way a turn goes, looking at the face.
func turnWord(deg float64) string {
	if deg < 0 {
		return "clockwise"
	}
	return "counter-clockwise"
}
