package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"spotface/bolt"
	"spotface/report/wording"
)

// screenLines is how many lines a first screen has: those of the smallest terminals, less
// the line of the command and the prompt's (common practice, no source). TestFirstScreenFits.
const screenLines = 25

// Most lines of a first screen that list what is out of band, off, or sizes.
const (
	mostPoints = 5
	mostSizes  = 6
)

// TextOptions of WriteText; the zero value is the first screen.
type TextOptions struct {
	Full bool // every table and sentence, not the first screen alone
}

// WriteText writes what v says for a person. Of several parts it first says how each
// is judged, with a table of the characteristics by part.
func WriteText(w io.Writer, opt TextOptions, views ...*View) error {
	var b strings.Builder
	if len(views) > 1 {
		writeParts(&b, views)
	}
	for i, v := range views {
		if i > 0 || len(views) > 1 {
			b.WriteString("\n\n")
		}
		t := &text{v: v}
		if opt.Full {
			t.full()
		} else {
			t.screen()
		}
		b.WriteString(t.String())
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// text gathers the lines of one part.
type text struct {
	v *View
	strings.Builder
}

// say writes a paragraph, its further lines indented.
func (t *text) say(s, indent string) { t.WriteString(wording.Wrap(s, indent)) }

func (t *text) lines() int { return strings.Count(t.String(), "\n") }

// head writes file, unit and headline; most is how many points a statement may list, 0 all.
func (t *text) head(most int) {
	s := t.v.File
	if t.v.About != "" {
		s += "    " + t.v.About
	}
	t.WriteString(s + "\n")
	for _, a := range t.v.Alarms {
		t.say("WARNING: "+a, "  ")
	}
	t.WriteByte('\n')
	for _, h := range t.v.Headline {
		t.say(h.Text, "  ")
		points := h.Points
		if most > 0 && len(points) > most+1 {
			points = points[:most]
		}
		for _, p := range points {
			t.WriteString("  ")
			t.say(p, "    ")
		}
		if n := len(h.Points) - len(points); n > 0 {
			fmt.Fprintf(t, "  and %d more: --full\n", n)
		}
	}
}

// foot writes the sizes and what follows them.
func (t *text) foot(full bool) {
	sizes := t.v.Sizes
	if n := len(sizes) - mostSizes; n > 1 && !full {
		sizes = append(sizes[:mostSizes:mostSizes], fmt.Sprintf("%d more: --full", n))
	}
	if len(sizes) > 0 {
		t.WriteByte('\n')
		t.facts(sizes)
	}
	for i, w := range t.v.Warnings {
		if i > 0 && !full {
			break
		}
		if n := len(t.v.Warnings) - 1; n > 0 && !full {
			w += fmt.Sprintf(" (%s: --full)", plural(n, "1 more warning", "%d more warnings"))
		}
		t.say("Warning: "+w, "  ")
	}
	caution := t.v.Caution[0]
	if full {
		caution = strings.Join(t.v.Caution, " ")
	}
	t.say(caution, "  ")
	more := "More: --full.   "
	if full {
		more = ""
	}
	t.say(more+"Next: "+t.v.Next, "  ")
}

// facts writes short facts side by side, the first with a capital.
func (t *text) facts(facts []string) {
	line := ""
	for i, f := range facts {
		if i == 0 {
			f = wording.Capital(f)
		}
		switch {
		case line == "":
		case utf8.RuneCountInString(line)+4+utf8.RuneCountInString(f) > wording.LineWidth:
			t.WriteString(line + "\n")
			line = ""
		default:
			line += "    "
		}
		line += f
	}
	t.WriteString(line + "\n")
}

// screen writes the first screen: as many rows of the drill tables as fit, those of holes
// that are off before the others.
func (t *text) screen() {
	t.head(mostPoints)
	foot := &text{v: t.v}
	foot.foot(false)
	left := screenLines - t.lines() - foot.lines()
	const around = 4 // blank line, title, heads, uncertainties
	var hidden []string
	all := 0
	for _, d := range t.v.Drill {
		all += around + len(d.Items)
	}
	if all > left && len(t.v.Drill) > 1 {
		left-- // for the line that says which are not shown
	}
	for _, d := range t.v.Drill {
		room := left - around
		if len(d.Items) > room {
			room-- // for the line that says so
		}
		if room < 2 && len(d.Items) > room {
			of := wording.Things(len(d.Items), d.Items[0].What)
			if d.Pattern != "" {
				of += " of " + d.Pattern
			}
			hidden = append(hidden, of)
			continue
		}
		left -= t.drill(d, min(room, len(d.Items)))
	}
	if len(hidden) > 0 {
		t.say("Not shown: "+wording.List(hidden)+" (--full).", "  ")
	}
	t.WriteString(foot.String())
}

// full writes everything.
func (t *text) full() {
	t.head(0)
	for _, d := range t.v.Drill {
		t.drill(d, len(d.Items))
	}
	for _, s := range t.v.Details {
		t.WriteString("\n" + s.Title + "\n")
		for _, p := range s.Text {
			t.WriteString("  ")
			t.say(p, "    ")
		}
		if s.Table != nil {
			s.Table.Write(&t.Builder)
		}
	}
	t.foot(true)
}

// drill writes a drill table with so many of its rows, those that are off first, and returns
// how many lines that took.
func (t *text) drill(d Drill, rows int) int {
	before := t.lines()
	t.WriteString("\n")
	t.say(d.Title, "  ")
	tab := d.Table(t.v.Unit)
	var keep, rest []int
	for i, it := range d.Items {
		if it.Turned || it.Shifted {
			keep = append(keep, i)
		} else {
			rest = append(rest, i)
		}
	}
	keep = append(keep, rest...)[:rows]
	slices.Sort(keep)
	shown := &wording.Table{Head: tab.Head}
	for _, i := range keep {
		shown.Rows = append(shown.Rows, tab.Rows[i])
	}
	hidden := len(d.Items) - len(shown.Rows)
	shown.Rows = append(shown.Rows, tab.Rows[len(d.Items):]...)
	shown.Write(&t.Builder)
	if hidden > 0 {
		fmt.Fprintf(t, "  and %d more: --full\n", hidden)
	}
	return t.lines() - before
}

// Table is the drill table with lengths in unit: a row for each item, in their order, then,
// where any is known, one of the largest uncertainty in each column. "!" is after what is
// off.
func (d *Drill) Table(unit string) *wording.Table {
	first := d.Items[0].What
	mixed := slices.ContainsFunc(d.Items, func(it Item) bool { return it.What != first })
	tab := &wording.Table{Head: []string{"<" + first, "<"}}
	if mixed {
		tab.Head = []string{"<", "<kind"}
	}
	limits := []string{"+-", ""}
	known := false
	for _, f := range figures {
		name := f.name
		switch {
		case name == "diameter" && mixed:
			name = "diameter or width"
		case name == "diameter" && first == string(bolt.Slot):
			name = "width"
		}
		suffix := ", deg"
		if f.length {
			suffix = ", " + unit
		}
		most := Number{}
		for i := range d.Items {
			if n := *f.of(&d.Items[i]); n.U > most.Value {
				most, known = Number{n.U, 0, n.Decimals}, true
			}
		}
		limit := most.upper()
		if limit != "" && f.off != nil {
			limit += "  " // below the mark of a hole that is off
		}
		tab.Head, limits = append(tab.Head, name+suffix), append(limits, limit)
	}
	for _, it := range d.Items {
		row := []string{it.ID, ""}
		if mixed {
			row[1] = it.What
		}
		for _, f := range figures {
			n := f.of(&it)
			cell := n.String()
			switch {
			case cell == "" || f.off == nil:
			case f.off(&it):
				cell = n.Signed() + " !"
			default:
				cell = n.Signed() + "  "
			}
			row = append(row, cell)
		}
		tab.Add(append(row, "")...)
	}
	tab.Head = append(tab.Head, "<")
	if known {
		tab.Add(append(limits, "(95 %)")...)
	}
	return tab
}

// writeParts says how each of several parts is judged, and lists the characteristics by part.
func writeParts(b *strings.Builder, views []*View) {
	one := &wording.Table{Head: []string{"<part", "<verdict", "<"}}
	judged := &wording.Table{Head: []string{"<off by, and verdict", "<unit"}}
	var changes []string
	at := make(map[string]int)
	for k, v := range views {
		name := fmt.Sprintf("part %d", k+1)
		first := ""
		for _, h := range v.Headline {
			if len(h.Points) > 0 {
				first, _, _ = strings.Cut(h.Points[0], " (band")
				break
			}
		}
		one.Add(fmt.Sprintf("%d  %s", k+1, v.File), string(v.Verdict), first)
		judged.Head = append(judged.Head, name)
		var changed []string
		for i := range v.Results {
			r := &v.Results[i]
			row := r.Feature + " " + plain(r.Characteristic)
			if _, ok := at[row]; !ok {
				at[row] = len(judged.Rows)
				judged.Add(append([]string{row, ""}, make([]string, len(views))...)...)
			}
			cells := judged.Rows[at[row]]
			if r.Unit != "" {
				cells[1] = r.Unit
			}
			if cells[2+k] = r.offCell(); r.Change != nil && r.Change.Beyond {
				changed = append(changed, fmt.Sprintf("%s (%s %s)", row,
					raw(r.Change.By, r.Change.Uncertainty).rounded(r.decimals()).SignedU(), r.Unit))
			}
		}
		if n := len(changed) - mostPoints; n > 1 {
			changed = append(changed[:mostPoints], fmt.Sprintf("%d more, marked *", n))
		}
		if len(changed) > 0 {
			changes = append(changes, name+" from part 1 in "+wording.List(changed))
		}
	}
	one.Write(b)
	if len(judged.Rows) == 0 {
		return
	}
	b.WriteString("\nWhat the plan judges, measured less nominal (! out of band, ? not to be " +
		"decided, * differs from part 1)\n")
	judged.Write(b)
	if len(changes) > 0 {
		b.WriteString(wording.Wrap("Differs by more than the uncertainty of the difference (k "+
			"= 2; one in twenty does by chance): "+strings.Join(changes, "; ")+".", "  "))
	}
}

// offCell is "+0.333 !*": the deviation, how it is judged, and whether it changed.
func (r *Result) offCell() string {
	if r.Verdict == Missing {
		return "missing ! "
	}
	s := ""
	if r.Deviation != nil {
		s = raw(*r.Deviation, 0).rounded(r.decimals()).Signed()
	}
	s += map[Verdict]string{Nonconforming: " !", Indeterminate: " ?", Conforming: "  "}[r.Verdict]
	if r.Change != nil && r.Change.Beyond {
		return s + "*"
	}
	return s + " "
}

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
		for _, it := range v.Items() {
			c.Write(it.row(v.File))
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
