// Package wording prints numbers and lists the way all texts of this module do.
package wording

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Short prints v without trailing zeros, with at most 4 decimals: a number from
// a plan.
func Short(v float64) string {
	s := strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// Band prints a band of deviations: "+-0.2" where it is even, "-0.1 to +0.2"
// else, "up to 0.3" or "from -0.1" where it has one side; nil is no limit.
func Band(lower, upper *float64) string {
	sign := func(v float64) string {
		if v > 0 {
			return "+" + Short(v)
		}
		return Short(v)
	}
	switch {
	case lower == nil && upper == nil:
		return ""
	case lower == nil:
		return "up to " + Short(*upper)
	case upper == nil:
		return "from " + sign(*lower)
	case *lower == -*upper:
		return "+-" + Short(*upper)
	}
	return sign(*lower) + " to " + sign(*upper)
}

// Count prints a whole number with commas between thousands.
func Count(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// List joins names as a sentence does: "H1", "H1 and H2", "H1, H2 and H3".
func List(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

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
