package forecast

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"spotface/report/wording"
)

// digits prints v to two significant digits: 0.013, 1.3, 13, 130.
func digits(v float64) string {
	if v == 0 {
		return "0"
	}
	magnitude := int(math.Floor(math.Log10(math.Abs(v))))
	// What rounds up to the next power of ten has a digit less behind the point.
	if next := math.Pow(10, float64(magnitude+1)); math.Abs(v) >= next*0.995 {
		magnitude++
	}
	if d := 1 - magnitude; d > 0 {
		return strconv.FormatFloat(v, 'f', d, 64)
	}
	unit := math.Pow(10, float64(magnitude-1))
	return wording.Count(int(math.Round(v/unit) * unit))
}

// percent prints a share; what is not quite all or nothing does not look like it.
func percent(share float64) string {
	p := math.Round(100 * share)
	switch {
	case p == 100 && share < 1:
		return ">99 %"
	case p == 0 && share > 0:
		return "<1 %"
	}
	return strconv.Itoa(int(p)) + " %"
}

const lineWidth = 96

// wrap breaks a sentence into lines, the later ones indented.
func wrap(s, indent string) string {
	var b strings.Builder
	at := 0
	for i, w := range strings.Fields(s) {
		n := utf8.RuneCountInString(w)
		switch {
		case i == 0:
		case at+1+n > lineWidth:
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

// columns lines up rows of cells, the first row a heading. The first column is
// left-aligned, the others right; one that is empty but for its heading is left
// out.
func columns(rows [][]string) string {
	width := make([]int, len(rows[0]))
	used := make([]bool, len(rows[0]))
	for i, row := range rows {
		for k, c := range row {
			width[k] = max(width[k], utf8.RuneCountInString(c))
			used[k] = used[k] || i > 0 && c != ""
		}
	}
	var b strings.Builder
	for _, row := range rows {
		var line strings.Builder
		for k, c := range row {
			if !used[k] {
				continue
			}
			pad := strings.Repeat(" ", width[k]-utf8.RuneCountInString(c))
			if k == 0 {
				line.WriteString("  " + c + pad)
			} else {
				line.WriteString("  " + pad + c)
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	return b.String()
}
