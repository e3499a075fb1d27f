package wording

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Table lines up cells in columns, two spaces apart, each line indented by two.
// Columns are right-aligned unless their heading starts with "<". A column that is
// empty in every row is left out with its heading.
type Table struct {
	Head []string
	Rows [][]string
}

// Add adds a row.
func (t *Table) Add(cells ...string) { t.Rows = append(t.Rows, cells) }

// Write appends the table to b.
func (t *Table) Write(b *strings.Builder) {
	t = t.Compact()
	head := make([]string, len(t.Head))
	for i, h := range t.Head {
		head[i] = strings.TrimPrefix(h, "<")
	}
	lines := slices.Concat([][]string{head}, t.Rows)
	width := make([]int, len(head))
	for _, cells := range lines {
		for i, c := range cells {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	for _, cells := range lines {
		line := ""
		for i, c := range cells {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			if strings.HasPrefix(t.Head[i], "<") {
				line += "  " + c + pad
			} else {
				line += "  " + pad + c
			}
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

// Compact is the table without the columns that are empty in every row.
func (t *Table) Compact() *Table {
	used := make([]bool, len(t.Head))
	for _, r := range t.Rows {
		for i, c := range r {
			used[i] = used[i] || c != ""
		}
	}
	keep := func(cells []string) (out []string) {
		for i, c := range cells {
			if used[i] {
				out = append(out, c)
			}
		}
		return out
	}
	out := &Table{Head: keep(t.Head)}
	for _, r := range t.Rows {
		out.Add(keep(r)...)
	}
	return out
}

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
