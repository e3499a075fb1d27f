package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"spotface/report/wording"
)

// decimals returns how many decimals to print beside an expanded uncertainty u:
// its first two digits (GUM 7.2.6), but 2 or 3; 2 where it is not known.
func decimals(u float64) int {
	if !(u > 0) {
		return 2
	}
	return min(max(1-int(math.Floor(math.Log10(u))), 2), 3)
}

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
	return " +-" + atLeast(u, d)
}

// atLeast prints a positive v with d decimals, and "<0.001" for what rounds to
// nothing.
func atLeast(v float64, d int) string {
	if s := fixed(v, d); strings.Trim(s, "0.") != "" {
		return s
	}
	return "<" + fixed(math.Pow(10, float64(-d)), d)
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

// turnWord says which way a turn goes, seen from outside looking at the face.
func turnWord(deg float64) string {
	if deg < 0 {
		return "clockwise"
	}
	return "counter-clockwise"
}
