package report

import (
	"strings"
	"unicode/utf8"
)

// table lines up cells in columns, two spaces apart, each line indented by two.
// Columns are right-aligned unless their heading starts with "<".
type table struct {
	head []string
	rows [][]string
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// write appends the table to b. A column that is empty in every row is left
// out with its heading.
func (t *table) write(b *strings.Builder) {
	width := make([]int, len(t.head))
	used := make([]bool, len(t.head))
	for _, row := range t.rows {
		for i, c := range row {
			width[i] = max(width[i], utf8.RuneCountInString(c))
			used[i] = used[i] || c != ""
		}
	}
	line := func(cells []string, head bool) {
		var l strings.Builder
		for i, c := range cells {
			if !used[i] {
				continue
			}
			left := strings.HasPrefix(t.head[i], "<")
			if head {
				c = strings.TrimPrefix(c, "<")
			}
			pad := strings.Repeat(" ", max(0, width[i]-utf8.RuneCountInString(c)))
			l.WriteString("  ")
			if left {
				l.WriteString(c + pad)
			} else {
				l.WriteString(pad + c)
			}
		}
		b.WriteString(strings.TrimRight(l.String(), " "))
		b.WriteByte('\n')
	}
	for i, h := range t.head {
		width[i] = max(width[i], utf8.RuneCountInString(strings.TrimPrefix(h, "<")))
	}
	line(t.head, true)
	for _, row := range t.rows {
		line(row, false)
	}
}
