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
	rows []row
}

type row struct {
	cells []string
	under []string
}

// Add adds a row.
func (t *Table) Add(cells ...string) { t.rows = append(t.rows, row{cells: cells}) }

// Under adds lines of their own below the last row, indented further.
func (t *Table) Under(lines ...string) {
	r := &t.rows[len(t.rows)-1]
	r.under = append(r.under, lines...)
}

// Rows is how many there are.
func (t *Table) Rows() int { return len(t.rows) }

// Write appends the table to b.
func (t *Table) Write(b *strings.Builder) {
	width := make([]int, len(t.Head))
	used := make([]bool, len(t.Head))
	for i, h := range t.Head {
		width[i] = utf8.RuneCountInString(strings.TrimPrefix(h, "<"))
	}
	for _, r := range t.rows {
		for i, c := range r.cells {
			width[i] = max(width[i], utf8.RuneCountInString(c))
			used[i] = used[i] || c != ""
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
	for _, r := range t.rows {
		line(r.cells)
		for _, u := range r.under {
			b.WriteString("      " + Wrap(u, "        "))
		}
	}
}
