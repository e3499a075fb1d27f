package wording

import (
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
	width := make([]int, len(t.Head))
	used := t.Used()
	for i, h := range t.Head {
		width[i] = utf8.RuneCountInString(strings.TrimPrefix(h, "<"))
	}
	for _, r := range t.Rows {
		for i, c := range r {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	line := func(cells []string) {
		var l strings.Builder
		for i, c := range cells {
			if !used[i] {
				continue
			}
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			l.WriteString("  ")
			if strings.HasPrefix(t.Head[i], "<") {
				l.WriteString(c + pad)
			} else {
				l.WriteString(pad + c)
			}
		}
		b.WriteString(strings.TrimRight(l.String(), " "))
		b.WriteByte('\n')
	}
	head := make([]string, len(t.Head))
	for i, h := range t.Head {
		head[i] = strings.TrimPrefix(h, "<")
	}
	line(head)
	for _, r := range t.Rows {
		line(r)
	}
}

// Used reports which columns have something in any row.
func (t *Table) Used() []bool {
	used := make([]bool, len(t.Head))
	for _, r := range t.Rows {
		for i, c := range r {
			used[i] = used[i] || c != ""
		}
	}
	return used
}
