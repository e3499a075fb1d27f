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

// Columns says what those of the table are.
const Columns = "spread: standard deviation; measuring: its share of the variance; change: first " +
	"part to last; (95 %); !: the control chart signals."

// WriteText writes a summary for a person: what drifts first, then the characteristics, then
// the parts to look at. Full prints all of each, not the first screen alone.
func WriteText(w io.Writer, s *Summary, full bool) error {
	wrapped := func(sentences []string) (out string) {
		for _, l := range sentences {
			out += wording.Wrap(l, "  ")
		}
		return out
	}
	advice := s.Advice(full)
	advice[len(advice)-1] += " More: --full."
	head, tail := wrapped(s.Headline(full)), wrapped(advice)
	rows := len(s.Characteristics)
	if !full {
		rows = max(screenLines-strings.Count(head+tail, "\n")-tableFrame, 3)
	}
	table, more := s.Table(full, rows)
	var b strings.Builder
	table.Write(&b)
	notes := []string{"Of a circle the worst hole. " + Columns}
	if more > 0 {
		notes = append([]string{fmt.Sprintf("and %d more: --full", more)}, notes...)
	}
	_, err := io.WriteString(w, head+"\n"+b.String()+wrapped(notes)+"\n"+tail)
	return err
}

// Headline says how many parts there are, and what drifts; without full only the surest.
func (s *Summary) Headline(full bool) []string {
	out := []string{fmt.Sprintf("%s (plan: %s): %s in %s, %s conforming, %s nonconforming, %s "+
		"indeterminate.", s.Part, s.Plan, wording.Things(s.Parts, "part"),
		wording.Things(s.Scans, "scan"), wording.Count(s.Conforming),
		wording.Count(s.Nonconforming), wording.Count(s.Indeterminate))}
	switch {
	case s.Parts < leastDrift:
		out = append(out, fmt.Sprintf("Too few parts to tell a drift: that takes %d.", leastDrift))
	case len(s.Drifts) == 0:
		out = append(out, "Nothing drifts from the first part to the last, as far as these scans tell.")
	}
	for i, d := range s.Drifts {
		if !full && i >= shownDrifts {
			break
		}
		n := decimals(d.Unit)
		out = append(out, fmt.Sprintf("%s DRIFTS: %s %s%s %s from first part to last%s.", d.Feature,
			words(d.Characteristic), wording.Signed(d.Change, n), wording.PlusMinus(d.Uncertainty, n),
			inWords(d.Unit), map[string]string{others: ", against the other holes",
				together: ", all its holes together"}[d.Against]))
	}
	return out
}

// Advice says which parts to look at and which scans to make again; without full only the
// first of each.
func (s *Summary) Advice(full bool) []string {
	var look, unusable, out []string
	for _, l := range s.LookFirst {
		look = append(look, fmt.Sprintf("%s (%s)", l.Part, l.Why))
	}
	for _, u := range s.Unusable {
		unusable = append(unusable, u.Path)
	}
	list := func(head string, names []string) {
		if more := len(names) - shownParts; more > 0 && !full {
			names = append(names[:shownParts:shownParts], wording.Count(more)+" more")
		}
		if len(names) > 0 {
			out = append(out, head+" "+wording.List(names)+".")
		}
	}
	list("Look first at", look)
	list("Cannot be used:", unusable)
	list("Counted before, so not again:", s.Duplicates)
	return append(append(out, s.Notes...),
		"A scan approves nothing: measure by hand what is named here.")
}

// Table lists the characteristics, at most so many, and how many more there are. Without full
// it is the first screen's: of a circle's holes the one that uses most of its band.
func (s *Summary) Table(full bool, most int) (table *wording.Table, more int) {
	rows := slices.Clone(s.Characteristics)
	if !full {
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
	table = &wording.Table{Head: []string{"<deviation of", "band", "mean", "spread", "measuring",
		"change", "Cpk, or in band", "Cp", "smallest", "<", "largest", "<"}}
	shown := min(most, len(rows))
	for i := range rows[:shown] {
		c := &rows[i]
		name := strings.TrimRight(c.Name()+" "+c.Unit, " ")
		if c.Missing > 0 {
			name += fmt.Sprintf(", %s missing", wording.Count(c.Missing))
		}
		table.Add(append([]string{name}, c.cells(full)...)...)
	}
	return table, len(rows) - shown
}

// Name is "B1/H2 clocking".
func (c *Characteristic) Name() string { return c.key().name() }

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
