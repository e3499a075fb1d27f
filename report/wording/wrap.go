package wording

import (
	"strings"
	"unicode/utf8"
)

// LineWidth is where sentences wrap.
const LineWidth = 88

// Wrap breaks s at spaces into lines of at most LineWidth characters, the later ones
// indented by indent, and ends it with a newline. What belongs to a number stays
// with it: its uncertainty, its unit.
func Wrap(s, indent string) string {
	var b strings.Builder
	at := 0
	for i, w := range glued(strings.Fields(s)) {
		n := utf8.RuneCountInString(w)
		switch {
		case i == 0:
		case at+1+n > LineWidth:
			b.WriteString("\n" + indent)
			at = len(indent)
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(w)
		at += n
	}
	return b.String() + "\n"
}

// glued joins "84.002", "+-0.014" and "mm," to one.
func glued(words []string) []string {
	var out []string
	for _, w := range words {
		if n := len(out); n > 0 && belongs(out[n-1], w) {
			out[n-1] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

// belongs reports whether w is to stay on the line of the number before it.
func belongs(before, w string) bool {
	if last := before[len(before)-1]; last < '0' || last > '9' {
		return false
	}
	if strings.HasPrefix(w, "+-") {
		return true
	}
	switch strings.TrimRight(w, ".,;:)") {
	case "mm", "in", "%", "degrees", "degree", "deg", "times":
		return true
	}
	return false
}
