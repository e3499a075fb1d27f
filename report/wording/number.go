package wording

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Decimals returns how many decimals to print beside an expanded uncertainty u:
// its first two digits (GUM 7.2.6), but 2 or 3; 2 where it is not known.
func Decimals(u float64) int {
	if !(u > 0) {
		return 2
	}
	return min(max(1-int(math.Floor(math.Log10(u))), 2), 3)
}

// Fixed prints v with d decimals, never as a negative zero.
func Fixed(v float64, d int) string {
	s := strconv.FormatFloat(v, 'f', d, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// Signed is Fixed with a sign in front of what is not zero.
func Signed(v float64, d int) string {
	s := Fixed(v, d)
	if strings.HasPrefix(s, "-") || strings.Trim(s, "0.") == "" {
		return s
	}
	return "+" + s
}

// PlusMinus prints " +-u" with d decimals, nothing where u is not known.
func PlusMinus(u float64, d int) string {
	if !(u > 0) {
		return ""
	}
	return " +-" + Limit(u, d)
}

// Limit prints a positive upper limit with d decimals, one of the last for what rounds
// to nothing.
func Limit(v float64, d int) string { return strings.TrimSuffix(AtLeast(v, d), orLess) }

const orLess = " or less"

// AtLeast prints a positive v with d decimals, and "0.001 or less" for what rounds to
// nothing.
func AtLeast(v float64, d int) string {
	if s := Fixed(v, d); strings.Trim(s, "0.") != "" {
		return s
	}
	return Fixed(math.Pow(10, float64(-d)), d) + orLess
}

// Things is "1 hole", "6 holes".
func Things(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%s %ss", Count(n), one)
}

// Word prints a small number as a word.
func Word(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight",
		"nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return Count(n)
}

func Capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// Digits prints v with two significant digits: 0.013, 1.3, 13, 1,300.
func Digits(v float64) string {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 1, 64), 64)
	if d := 1 - int(math.Floor(math.Log10(math.Abs(r)))); r != 0 && d > 0 {
		return strconv.FormatFloat(r, 'f', d, 64)
	}
	return Count(int(r))
}

// Percent prints a share; what is not quite all or nothing does not look like it.
func Percent(share float64) string {
	const rounding = 1e-9 // of a sum of shares
	p := math.Round(100 * share)
	switch {
	case p == 100 && share < 1-rounding:
		return ">99 %"
	case p == 0 && share > rounding:
		return "<1 %"
	}
	return strconv.Itoa(int(p)) + " %"
}
