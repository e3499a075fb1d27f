package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
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

// short prints v without trailing zeros, with at most 4 decimals: a number from
// a plan.
func short(v float64) string {
	s := strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// bandText prints a band of deviations: "+-0.2" where it is even, "-0.1 to
// +0.2" else, "up to 0.3" or "from -0.1" where it has one side.
func bandText(lower, upper *float64) string {
	sign := func(v float64) string {
		if v > 0 {
			return "+" + short(v)
		}
		return short(v)
	}
	switch {
	case lower == nil && upper == nil:
		return ""
	case lower == nil:
		return "up to " + short(*upper)
	case upper == nil:
		return "from " + sign(*lower)
	case *lower == -*upper:
		return "+-" + short(*upper)
	}
	return sign(*lower) + " to " + sign(*upper)
}

// count prints a whole number with commas between thousands.
func count(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// things is "1 hole", "6 holes".
func things(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%s %ss", count(n), one)
}

// word prints a small number as a word.
func word(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return count(n)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// list joins names as a sentence does: "H1", "H1 and H2", "H1, H2 and H3".
func list(names []string) string {
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// turnWord says which way a turn goes, seen from outside looking at the face.
func turnWord(deg float64) string {
	if deg < 0 {
		return "clockwise"
	}
	return "counter-clockwise"
}
