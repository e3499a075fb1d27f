// Package wording prints numbers and lists the way all texts of this module do.
package wording

import (
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
