package batch

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"spotface/report"
	"spotface/report/wording"
)

// inWords is a unit as a sentence has it.
func inWords(unit string) string {
	if unit == "deg" {
		return "degrees"
	}
	return unit
}

// decimals are those of a deviation.
func decimals(unit string) int {
	if unit == "in" {
		return 4
	}
	return 3
}

// words is the name of a characteristic in a sentence.
func words(c report.Characteristic) string { return strings.ReplaceAll(string(c), "_", " ") }

// WriteText writes a summary for a person: what drifts first, then the characteristics, then
// the parts to look at. Full prints all of each, not the first screen alone.
func WriteText(w io.Writer, s *Summary, full bool) error {
	head, table, tail := text{s: s, full: full}, text{s: s, full: full}, text{s: s, full: full}
	head.say("%s (plan: %s): %s in %s, %s conforming, %s nonconforming, %s indeterminate.",
		s.Part, s.Plan, wording.Things(s.Parts, "part"), wording.Things(s.Scans, "scan"),
		wording.Count(s.Conforming), wording.Count(s.Nonconforming), wording.Count(s.Indeterminate))
	head.drifts()
	tail.list("Look first at", len(s.LookFirst), func(i int) string {
		return fmt.Sprintf("%s (%s)", s.LookFirst[i].Part, s.LookFirst[i].Why)
	})
	tail.list("Cannot be used:", len(s.Unusable), func(i int) string { return s.Unusable[i].Path })
	tail.list("There before, not counted again:", len(s.Duplicates), func(i int) string {
		return s.Duplicates[i]
	})
	for _, n := range s.Notes {
		tail.say("%s", n)
	}
	tail.say("A scan approves nothing: measure by hand what is named here. More: --full.")
	table.table(screenLines - strings.Count(head.b.String()+tail.b.String(), "\n"))
	_, err := io.WriteString(w, head.b.String()+table.b.String()+tail.b.String())
	return err
}

type text struct {
	s    *Summary
	full bool
	b    strings.Builder
}

func (t *text) say(format string, args ...any) {
	t.b.WriteString(wording.Wrap(fmt.Sprintf(format, args...), "  "))
}

// most is how many of a list are printed.
func (t *text) most(shown, all int) int {
	if t.full {
		return all
	}
	return min(shown, all)
}

func (t *text) drifts() {
	s := t.s
	switch {
	case s.Parts < leastDrift:
		t.say("Too few parts to tell a drift: that takes %d.", leastDrift)
	case len(s.Drifts) == 0:
		t.say("Nothing drifts from the first part to the last, as far as these scans tell.")
	}
	for _, d := range s.Drifts[:t.most(shownDrifts, len(s.Drifts))] {
		n := decimals(d.Unit)
		t.say("%s DRIFTS: %s %s%s %s from first part to last%s.", d.Feature,
			words(d.Characteristic), wording.Signed(d.Change, n), wording.PlusMinus(d.Uncertainty, n),
			inWords(d.Unit), map[string]string{others: ", against the other holes",
				together: ", all its holes together"}[d.Against])
	}
}

// table prints the characteristics: on the first screen of a circle's holes the one that
// uses most of its band, and as many as go into so many lines.
func (t *text) table(lines int) {
	rows := slices.Clone(t.s.Characteristics)
	if !t.full {
		slices.SortStableFunc(rows, func(a, b Characteristic) int {
			return cmp.Or(min(b.Measured, 1)-min(a.Measured, 1), cmp.Compare(b.used, a.used))
		})
		seen := make(map[key]bool)
		rows = slices.DeleteFunc(rows, func(c Characteristic) bool {
			k, _ := c.key().hole()
			again := seen[k]
			seen[k] = true
			return again || c.Measured == 0 && c.Missing == 0
		})
	}
	tab := wording.Table{Head: []string{"<deviation of", "band", "mean", "spread", "measuring",
		"change", "Cpk, or in band", "Cp", "smallest", "<", "largest", "<"}}
	shown := t.most(max(lines-tableFrame, 3), len(rows))
	for i := range rows[:shown] {
		c := &rows[i]
		name := strings.TrimRight(c.key().name()+" "+c.Unit, " ")
		if c.Missing > 0 {
			name += fmt.Sprintf(", %s missing", wording.Count(c.Missing))
		}
		tab.Add(append([]string{name}, c.cells(t.full)...)...)
	}
	t.b.WriteString("\n")
	tab.Write(&t.b)
	if more := len(rows) - shown; more > 0 {
		t.say("and %d more: --full", more)
	}
	t.say("Of a circle the worst hole. spread: standard deviation; measuring: its share of the " +
		"variance; change: first part to last; (95 %%); !: the control chart signals.")
	t.b.WriteString("\n")
}

func (c *Characteristic) key() key { return key{c.Feature, c.Characteristic} }

// cells are the figures of a row, from the band on; some only where there is room.
func (c *Characteristic) cells(full bool) []string {
	cells := make([]string, 11)
	n := decimals(c.Unit)
	if cells[0] = wording.Band(c.Lower, c.Upper); c.BandVaries {
		cells[0] = "varies"
	}
	if c.Mean != nil {
		cells[1] = wording.Signed(*c.Mean, n)
		cells[7], cells[8] = wording.Signed(c.Smallest.Deviation, n), c.Smallest.Part
		cells[9], cells[10] = wording.Signed(c.Largest.Deviation, n), c.Largest.Part
	}
	if c.Spread != nil {
		cells[2] = wording.Fixed(*c.Spread, n+1)
	}
	if c.Split != nil {
		cells[3] = wording.Percent(c.Split.Share)
	}
	if c.Trend != nil {
		if cells[4] = wording.Signed(c.Trend.Change, n); full {
			cells[4] += wording.PlusMinus(c.Trend.Uncertainty, n)
		}
	}
	within := func(v float64, i Interval) string {
		return fmt.Sprintf("%.2f (%.2f to %.2f)", v, i.Low, i.High)
	}
	switch in := c.Inside; {
	case c.Capability != nil:
		cells[5] = within(c.Capability.Cpk, c.Capability.CpkInterval)
		if c.Capability.Cp != nil {
			cells[6] = within(*c.Capability.Cp, *c.Capability.CpInterval)
		}
	case in != nil:
		cells[5] = fmt.Sprintf("%s (%.1f to %.1f)", wording.Percent(float64(in.Inside)/float64(in.Of)),
			100*in.Interval.Low, 100*in.Interval.High)
	}
	if c.Chart != nil && !c.Chart.Steady {
		cells[5] += " !"
	}
	if !full {
		cells[0] = ""
		clear(cells[6:])
	}
	return cells
}

// list names some of n things in a sentence.
func (t *text) list(head string, n int, name func(i int) string) {
	var names []string
	for i := range t.most(shownParts, n) {
		names = append(names, name(i))
	}
	if more := n - len(names); more > 0 {
		names = append(names, wording.Count(more)+" more")
	}
	if n > 0 {
		t.say("%s %s.", head, wording.List(names))
	}
}
