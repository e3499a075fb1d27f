package wording_test

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"

	"spotface/report/wording"
)

func ExampleTable() {
	tab := wording.Table{Head: []string{"<hole", "diameter", "band", "<verdict"}}
	tab.Add("H1", "6.600", "", "conforming")
	tab.Add("H12", "16.593", "", "conforming")
	var b strings.Builder
	tab.Write(&b)
	fmt.Print(b.String())
	// Output:
	//   hole  diameter  verdict
	//   H1       6.600  conforming
	//   H12     16.593  conforming
}

// No line is too long, nothing is lost, and no number parts from its uncertainty and
// unit, wherever the line happens to end.
func TestWrap(t *testing.T) {
	for pad := range 100 {
		s := strings.Repeat("x", pad) + " pitch 84.002 +-0.014 mm, in 95 % of 12 scans, (4 degrees) µ " + strings.Repeat("word ", 40)
		got := wording.Wrap(s, "  ")
		assert.Equal(t, strings.Fields(s), strings.Fields(got))
		lines := strings.Split(strings.TrimSuffix(got, "\n"), "\n")
		for _, l := range lines {
			if !strings.Contains(l, "xx") || pad <= wording.LineWidth {
				assert.LessOrEqual(t, utf8.RuneCountInString(l), wording.LineWidth, "%q", l)
			}
		}
		for _, whole := range []string{"84.002 +-0.014 mm,", "95 %", "(4 degrees)"} {
			assert.Contains(t, got, whole)
		}
	}
	assert.Equal(t, "\n", wording.Wrap("", ""))
}
