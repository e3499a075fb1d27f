//go:build study

package sizes

import (
	"fmt"
	"testing"

	"spotface/mesh/scansim/trials"
)

// Are sizes stated with probability p right with frequency p?
func TestStudySizes(t *testing.T) {
	n := trials.Asked(20000)
	tab := trials.Table{
		Title: "Sizes that the maker meant",
		About: fmt.Sprintf("The most probable size of %d lengths a row (or that none is standard), drawn and made as\n"+
			"populations in bolt/sizes has it and not as the prior does, measured with standard uncertainties of 0.003 to\n"+
			"0.05 mm: by the stated probability, how many statements, their mean probability, and how often they are right.\n\n"+
			"    go test -tags study -run StudySizes ./bolt/sizes", n),
		Head: []string{"sizes", "0.4 to 0.5", "to 0.6", "to 0.7", "to 0.8", "to 0.9", "to 1", "all"},
	}
	for i, p := range populations() {
		count, stated, right := p.curve(n, uint64(i))
		row := []string{p.name}
		var all [3]float64
		for k := range bins {
			row = append(row, fmt.Sprintf("%.0f: %.2f %.2f", count[k], stated[k]/max(count[k], 1), right[k]/max(count[k], 1)))
			all[0], all[1], all[2] = all[0]+count[k], all[1]+stated[k], all[2]+right[k]
		}
		tab.Rows = append(tab.Rows, append(row, fmt.Sprintf("%.0f: %.2f %.2f", all[0], all[1]/all[0], all[2]/all[0])))
	}
	tab.Write(t, "../..", "sizes")
}
