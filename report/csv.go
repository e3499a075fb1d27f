package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
)

// WriteCSV writes one table with one line of heads: of a measurement a row for each hole,
// stud and surface (the diameter of a slot is its width); of a check a row for each
// characteristic of each part.
func WriteCSV(w io.Writer, views ...*View) error {
	c := csv.NewWriter(w)
	for i, v := range views {
		if v.Judged != nil {
			if i == 0 {
				c.Write([]string{"file", "feature", "matched", "characteristic", "unit",
					"nominal", "measured", "off", "plus_minus", "from", "to", "verdict"})
			}
			for _, r := range v.Judged.Rows {
				feature, matched, _ := strings.Cut(r[0], " (")
				c.Write(append([]string{v.File, feature, strings.TrimSuffix(matched, " here)")},
					r[1:]...))
			}
			continue
		}
		if i == 0 {
			c.Write(v.columns())
		}
		for _, d := range v.Drill {
			for _, it := range d.Items {
				c.Write(it.row(v.File))
			}
		}
		for _, it := range v.Surfaces {
			for _, k := range append([]Item{it}, it.Like...) {
				c.Write(k.row(v.File))
			}
		}
	}
	c.Flush()
	return c.Error() // the first error of any write above
}

func (v *View) columns() []string {
	heads := []string{"file", "id", "what", "of", "face"}
	for _, f := range figures {
		h := strings.ReplaceAll(strings.ToLower(f.name), "-", "_") + "_deg"
		if f.length {
			h = strings.TrimSuffix(h, "deg") + v.Unit
		}
		heads = append(heads, h, "plus_minus_"+h)
	}
	return heads
}

func (it *Item) row(file string) []string {
	row := []string{file, it.ID, it.What, it.Of, it.Face}
	for _, f := range figures {
		n, u := f.of(it), ""
		if n.Decimals > 0 && n.U > 0 {
			u = strconv.FormatFloat(n.U, 'f', n.Decimals+1, 64)
		}
		row = append(row, n.String(), u)
	}
	return row
}
