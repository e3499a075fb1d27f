package main

import (
	"io"
	"strings"

	"spotface/report/plan"
	"spotface/report/wording"
)

// writePlanKeys lists the keys of a plan file, each under those that hold it.
func writePlanKeys(w io.Writer) error {
	var b strings.Builder
	b.WriteString(wording.Wrap("The plan file is YAML: keys with values, each under its own. "+
		"Lengths are in the plan's unit, angles in degrees, counter-clockwise, looking at the "+
		"face. Leave out what need not be judged. \"spotface measure SCAN --write-plan PLAN\" "+
		"drafts one.", ""))
	b.WriteString("\n")
	t := wording.Table{Head: []string{"<key", "<unit", "<example", "<"}}
	for _, k := range plan.Keys() {
		unit := map[string]string{"length": "length", "same": "as the value"}[k.Unit]
		if unit == "" {
			unit = k.Unit
		}
		t.Add(strings.Repeat("  ", k.Depth())+k.Name(), unit, k.Example, k.Says)
	}
	t.Write(&b)
	_, err := io.WriteString(w, b.String())
	return err
}
